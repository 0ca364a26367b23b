/** Why nothing is decided about a unit now. */
export function underTestText(serial: string): string {
  return `A test of ${serial} has begun and is not recorded yet: wait for its end, or start the station again if it was cut off.`;
}
