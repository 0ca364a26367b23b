import { UsageError } from "../../explain.ts";
import { type MoistAir, moistAir, type RoomAir } from "../../measure/air/moist-air.ts";

/**
 * The air that options describe.
 * @param isHumidityAssumed nobody gave the humidity, so that it is not what to check
 * @throws UsageError where it would be mostly steam
 */
export function possibleAir(air: RoomAir, isHumidityAssumed = false): MoistAir {
  try {
    return moistAir(air);
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    if (isHumidityAssumed) {
      const humidity = `${Math.round(air.relativeHumidity * 100)} %`;
      throw new UsageError(
        `--temperature: air so hot would be mostly steam at ${humidity} relative humidity, the house default; check --temperature, CIPM-2007 is for 15 to 27 degC.`,
      );
    }
    throw new UsageError(
      "--temperature: air so hot and humid would be mostly steam; check --temperature and --humidity, CIPM-2007 is for 15 to 27 degC.",
    );
  }
}
