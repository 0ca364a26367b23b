import { UsageError } from "../../explain.ts";
import { type MoistAir, moistAir, type RoomAir } from "../../measure/air/moist-air.ts";

/**
 * The air that options describe.
 * @throws UsageError where it would be mostly steam
 */
export function possibleAir(air: RoomAir): MoistAir {
  try {
    return moistAir(air);
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    throw new UsageError(
      "--temperature: air so hot and humid would be mostly steam; check --temperature and --humidity, CIPM-2007 is for 15 to 27 degC.",
    );
  }
}
