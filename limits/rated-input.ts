/** Up to here the excess allowed is 20 %; above, 15 % or 60 W, whichever is greater. */
const SMALL_MOTOR_W = 300;

/**
 * Most that an appliance marked with this rated input may take, the usual deviation for motor-operated appliances:
 * 20 % more up to 300 W; above, 15 % or 60 W more, whichever is greater. There is no least.
 * @param rated_W as marked on the appliance; at rated voltage and normal operation
 * @returns W
 * @throws RangeError unless the rated input is above zero
 * @example ratedInputHighest_W(350) // 410
 * @see IEC 60335-1, Table 1, rows for motor-operated appliances (from memory)
 */
export function ratedInputHighest_W(rated_W: number): number {
  if (!(rated_W > 0 && Number.isFinite(rated_W))) {
    throw new RangeError(`A rated input must be above zero, got ${rated_W} W.`);
  }
  const excess_W = rated_W <= SMALL_MOTOR_W ? 0.2 * rated_W : Math.max(0.15 * rated_W, 60);
  return rated_W + excess_W;
}
