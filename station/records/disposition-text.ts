import type { Disposition } from "./disposition.ts";
import { localTime } from "./local-time.ts";

const WORDS = { hold: "put on hold", accept: "released", rework: "reworked", scrap: "scrapped" } as const;

/**
 * A decision about a unit for people to read; times are local.
 * @example ["reworked after attempt 2  2026-01-05 07:12:40 by A. Marsh", "  cause: gasket pinched", "  done: new gasket"]
 */
export function dispositionLines(serial: string, disposition: Disposition): string[] {
  const { kind, at, by, units, reason, rework, chain, lifts } = disposition;
  const attempts = units.filter((unit) => unit.serial === serial).map(({ attempt }) => attempt);
  const others = new Set(units.map((unit) => unit.serial)).size - 1;
  const withOthers = others === 0 ? "" : `, with ${others} other ${others === 1 ? "unit" : "units"}`;
  return [
    `${WORDS[kind]}${numberText(kind, chain.sequence, lifts)} after attempt ${attempts.join(", ")}  ${localTime(at)}${byText(by)}${withOthers}`,
    ...(rework
      ? [`  cause: ${rework.cause}`, `  done: ${rework.action}`]
      : [`  ${reason.code}: ${reason.sentence}`]),
  ];
}

/** By which number a hold is lifted, and which ones a release has lifted. */
function numberText(kind: Disposition["kind"], number: number, lifts: Disposition["lifts"]): string {
  if (kind === "hold") return ` (hold ${number})`;
  return kind === "accept" && lifts ? ` from hold ${lifts.join(", ")}` : "";
}

function byText({ name, sign_in }: Disposition["by"]): string {
  if (sign_in === "station") return " by the station";
  return name === null ? "" : ` by ${name}`;
}
