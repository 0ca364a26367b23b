import { mkdirSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { canonicalText, sha256Hex } from "../../station/records/chain.ts";
import { travellerPath } from "../../station/records/record-name.ts";
import { facts, outcome } from "./example-attempt.ts";

const VERDICTS = ["pass", "pass", "fail", "void"] as const;

/** Writes chained travellers as a station would have, without its syncs: every fourth attempt void, units tested up to three times. */
export function writeTravellers(folder: string, count: number, station = "line 1"): string[] {
  let previous: string | null = null;
  const tests = new Map<string, number>();
  return Array.from({ length: count }, (_, at) => {
    const verdict = VERDICTS[at % 4] ?? "pass";
    const serial = `A${Math.floor(at / 5) + (at % 3)}`;
    const attempt = (tests.get(serial) ?? 0) + 1;
    tests.set(serial, attempt);
    const sequence = at + 1;
    const ended_at = new Date(Date.UTC(2026, 0, 5, 6, at)).toISOString();
    const traveller = {
      format: "drumtight/traveller/1",
      id: sequence.toString(16).padStart(32, "0"),
      ...facts(serial, attempt, {
        started_at: ended_at,
        station: { name: station, software: "drumtight 0.1.0", simulated: true },
      }),
      ...outcome({
        verdict,
        reasons:
          verdict === "pass"
            ? []
            : [{ code: verdict === "fail" ? "OUT_OF_LIMITS" : "ABORTED", sentence: "So." }],
        ended_at,
        curves: [],
      }),
      chain: { sequence, previous },
    };
    const text = canonicalText(traveller);
    previous = sha256Hex(text);
    const path = travellerPath({ ...traveller, sequence, attempt });
    mkdirSync(dirname(join(folder, path)), { recursive: true });
    writeFileSync(join(folder, path), text);
    return path;
  });
}
