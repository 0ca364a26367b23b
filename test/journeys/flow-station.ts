import { withoutOrificePieces } from "../made-station-file.ts";
import { changedStation } from "./plain-station.ts";

const PLATE =
  "\nflow_from: { plate_in_pipe: { pipe: 80 mm, pipe_uncertainty: 0.1 mm, bore: 48 mm, bore_uncertainty: 0.02 mm, taps: d-d2 } }";
const FLOW_DROP = `
  flow_plate:
    profile: scpi-flow-drop
    transport: { kind: memory }
    identity: "FLOW-DROP"
    calibration_due: 2027-02-28
    channels:
      flow_drop: { uncertainty: "2 Pa", uncertainty_of_reading: "0.2 %" }
  power_meter:`;

const byOrifices = (text: string) =>
  withoutOrificePieces(text).replace("\nflow_from: gauge", "\nflow_from: plenum_orifices");
const WAYS = {
  "a flow gauge": (text: string) => text,
  "calibrated orifices": byOrifices,
  "orifices nobody has calibrated": (text: string) =>
    byOrifices(text).replace(/coefficient: [\s\S]*?calibration_due: 2026-12-10,\n {4}\}/g, "}"),
  "a plate in the pipe": (text: string) =>
    text
      .replace("\nflow_from: gauge", PLATE)
      .replace(/\n {6}flow: \{.*/, "")
      .replace("\n  power_meter:", FLOW_DROP),
};

/** Where a station's flow comes from. */
export type WayOfFlow = keyof typeof WAYS;

export const WAYS_OF_FLOW = Object.keys(WAYS) as readonly WayOfFlow[];

/**
 * Writes the demo station's file with its flow from there, for the test that asks.
 * @param also what else is changed in it
 * @returns its path
 */
export function stationWithFlowFrom(way: WayOfFlow, also = (text: string) => text): string {
  return changedStation((demo) => also(WAYS[way](demo)));
}
