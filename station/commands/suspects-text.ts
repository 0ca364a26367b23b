import { escaped } from "../../limits/escaped-text.ts";
import type { UnitInDoubt } from "../records/doubts.ts";
import { minuteOf } from "./records-at.ts";

/** Units in doubt under the latest hold of each, and how they get out of it. @param units at least one */
export function suspectsText(units: readonly UnitInDoubt[]): string {
  const byHold = new Map<number, UnitInDoubt[]>();
  for (const unit of units) {
    const key = unit.holds.at(-1)?.chain.sequence ?? 0;
    byHold.set(key, [...(byHold.get(key) ?? []), unit]);
  }
  const groups = [...byHold.values()].flatMap((held) => [...groupLines(held).map(escaped), ""]);
  const count =
    units.length === 1
      ? "1 unit is in doubt and does not count as passed:"
      : `${units.length} units are in doubt and do not count as passed:`;
  return [
    count,
    "",
    ...groups,
    "Test each again, or let a supervisor release it: drumtight release SERIAL --reason TEXT --as NAME",
  ].join("\n");
}

function groupLines(units: readonly UnitInDoubt[]): string[] {
  const hold = units[0]?.holds.at(-1);
  const width = (of: (unit: UnitInDoubt) => string) => Math.max(...units.map((unit) => of(unit).length));
  const [serials, models] = [width(({ serial }) => serial), width(({ model }) => model)];
  return [
    ...(hold ? [`Held ${minuteOf(hold.at)}: ${hold.reason.sentence}`] : []),
    ...units.map(
      ({ serial, model, verdict, attempt }) =>
        `  ${serial.padEnd(serials)}  ${model.padEnd(models)}  attempt ${attempt}: ${verdict}`,
    ),
  ];
}
