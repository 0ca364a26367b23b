import { escaped } from "../../limits/escaped-text.ts";
import type { Disposition } from "../records/disposition.ts";
import type { UnitInDoubt } from "../records/doubts.ts";
import { zonedTime } from "../records/local-time.ts";

/** A unit that somebody holds, and the holds. */
export interface UnitOnHold {
  readonly serial: string;
  readonly holds: readonly Disposition[];
}

/** Units in doubt, and units that somebody holds, under the latest hold of each, and how they get out of it; times are local. */
export function suspectsText(inDoubt: readonly UnitInDoubt[], onHold: readonly UnitOnHold[]): string {
  return [
    ...(inDoubt.length > 0 ? doubtLines(inDoubt) : []),
    ...(inDoubt.length > 0 && onHold.length > 0 ? [""] : []),
    ...(onHold.length > 0 ? holdLines(onHold) : []),
  ].join("\n");
}

function doubtLines(units: readonly UnitInDoubt[]): string[] {
  const [serials, models] = [width(units, ({ serial }) => serial), width(units, ({ model }) => model)];
  const count =
    units.length === 1
      ? "1 unit is in doubt and does not count as passed:"
      : `${units.length} units are in doubt and do not count as passed:`;
  return [
    count,
    "",
    ...groups(
      units,
      ({ serial, model, verdict, attempt }) =>
        `  ${serial.padEnd(serials)}  ${model.padEnd(models)}  attempt ${attempt}: ${verdict}`,
    ),
    "Test each again, or let a supervisor release it: drumtight release SERIAL --reason TEXT --as NAME",
  ];
}

function holdLines(units: readonly UnitOnHold[]): string[] {
  const count =
    units.length === 1
      ? "1 unit is on hold by somebody's decision and is not sent on:"
      : `${units.length} units are on hold by somebody's decision and are not sent on:`;
  return [
    count,
    "",
    ...groups(units, ({ serial, holds }) => {
      const others = holds.slice(0, -1).map(({ chain }) => chain.sequence);
      return `  ${serial}${others.length > 0 ? `, and by hold ${others.join(", ")}` : ""}`;
    }),
    "A supervisor releases them: drumtight release --hold NUMBER --reason TEXT --as NAME",
  ];
}

/** Below each latest hold its units, then an empty line. */
function groups<Unit extends UnitOnHold>(units: readonly Unit[], lineOf: (unit: Unit) => string): string[] {
  const byHold = new Map<string, Unit[]>();
  for (const unit of units) {
    const hold = unit.holds.at(-1);
    const key = `${hold?.chain.sequence} ${hold?.reference}`;
    byHold.set(key, [...(byHold.get(key) ?? []), unit]);
  }
  return [...byHold.values()].flatMap((held) => {
    const hold = held[0]?.holds.at(-1);
    return [...(hold ? [headOf(hold)] : []), ...held.map(lineOf), ""].map(escaped);
  });
}

/** @example "Held 2026-01-05 07:00:21 +01:00 by A. Marsh, hold 12: dented at the latch" in Berlin */
function headOf({ at, by, reason, chain }: Disposition): string {
  if (chain.sequence === 0) return `In doubt since ${zonedTime(at)}: ${reason.sentence}`;
  const stations = by.sign_in === "station";
  const whose = stations ? "" : `${by.name === null ? "" : ` by ${by.name}`}, hold ${chain.sequence}`;
  return `Held ${zonedTime(at)}${whose}: ${reason.sentence}`;
}

function width<Unit>(units: readonly Unit[], of: (unit: Unit) => string): number {
  return Math.max(...units.map((unit) => of(unit).length));
}
