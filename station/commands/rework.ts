import { Command } from "@commander-js/extra-typings";
import { escaped } from "../../limits/escaped-text.ts";
import type { Dispositions } from "../records/dispositions.ts";
import type { RecordsAt } from "./records-at.ts";

interface ReworkOptions {
  readonly cause: string;
  readonly action: string;
  readonly records?: string;
  readonly station?: string;
  readonly as?: string;
  readonly json?: true;
}

/** `drumtight rework SERIAL`: 0 recorded, 1 the unit's records say no, 2 used wrongly, not allowed, or cannot run. */
export function reworkCommand() {
  return new Command("rework")
    .description("record what was wrong with a failed unit and what was done; its next test is the full test")
    .argument("<serial>", "the unit's serial, as scanned")
    .requiredOption("--cause <text>", 'what was found, like "gasket pinched at the latch"')
    .requiredOption("--action <text>", 'what was done about it, like "new gasket"')
    .option("--records <dir>", 'records folder, instead of the station file\'s; "records" without either')
    .option("--station <file>", "station file: its records, its limits, and who signs in there")
    .option("--as <name>", "who did it; where people sign in, the PIN is asked for (or DRUMTIGHT_PIN)")
    .option("--json", "print the record as JSON")
    .addHelpText(
      "after",
      `
Only for a unit that failed, that gave no valid measurement as often as it may, or that somebody has put on hold. The
station may be running.

Before you open a body see that it is vented, and the motor unplugged.

Example:
  $ drumtight rework POD000123 --cause "gasket pinched" --action "new gasket" --station line-2.yaml --as "A. Marsh"`,
    )
    .action(async (serial, options) => {
      process.exitCode = await rework(serial, options);
    });
}

async function rework(serial: string, options: ReworkOptions): Promise<0 | 1> {
  const { recordsAt, requireText, whoDecides } = await import("./records-at.ts");
  const { openDispositions } = await import("../records/dispositions.ts");
  const { serialsUnderTest } = await import("../records/open-attempts-beside.ts");
  const { decider } = await import("../records/disposition.ts");
  const { LEAST_ROLE, whyNot } = await import("../disposition-rules.ts");
  const cause = requireText("--cause", options.cause);
  const action = requireText("--action", options.action);
  const at = recordsAt(options);
  const dispositions = await openDispositions(at.folder);
  const refusal = async (): Promise<string | null> => {
    const isUnderTest = (await serialsUnderTest(at.folder)).has(serial);
    const standing = await dispositions.standingOf(serial);
    if (standing.attempts.length === 0 && !isUnderTest) {
      const { unknownSerial } = await import("../records/unknown-serial.ts");
      return unknownSerial(at.folder, serial);
    }
    const retest = await ruleOf(at.limits, standing.newest?.model);
    return whyNot("rework", standing, { isUnderTest, retest });
  };
  const why = await refusal();
  if (why !== null) return refuse(why);
  const { newest } = await standingOf(dispositions, serial);
  const who = await whoDecides({
    at,
    as: options.as,
    least: LEAST_ROLE.rework,
    tests: await dispositions.testsOf([{ serial, traveller: newest.sha256 }]),
    whereProven: `${serial} was tested where people sign in: say who you are, with --station FILE of that station and --as NAME.`,
  });
  // While a PIN was typed, the unit may have been tested.
  const whyNow = await refusal();
  if (whyNow !== null) return refuse(whyNow);
  const standing = await standingOf(dispositions, serial);
  if (standing.newest.sha256 !== newest.sha256) {
    return refuse(`${serial} was tested meanwhile: look at drumtight find ${serial}.`);
  }
  const recorded = await dispositions.dispose({
    kind: "rework",
    by: decider(who),
    units: [{ serial, attempt: newest.attempt, traveller: newest.sha256 }],
    reason: { code: "REWORKED", sentence: cause },
    rework: { cause, action },
  });
  const next =
    standing.state.state === "held"
      ? "It is still on hold: once a supervisor has released it, its next test is the full test."
      : "Its next test is the full test.";
  process.stdout.write(
    options.json
      ? `${JSON.stringify(recorded)}\n`
      : `${escaped(serial)}: rework after attempt ${newest.attempt} recorded${who.name === null ? "" : ` by ${who.name}`}. ${next}\n`,
  );
  return 0;
}

async function standingOf(dispositions: Dispositions, serial: string) {
  const standing = await dispositions.standingOf(serial);
  const { newest } = standing;
  if (!newest) throw new Error(`${serial} has no attempt any more.`);
  return { ...standing, newest };
}

/** @returns the retest rule of the model's limit file; null where there is none to be read */
async function ruleOf(station: RecordsAt["limits"], model: string | undefined) {
  if (station === null || model === undefined) return null;
  const { readLimitFolder } = await import("../../limits/limit-file.ts");
  const read = readLimitFolder(station.folder);
  if (read.kind !== "read") return null;
  const { limitsOn } = await import("../models-in-force.ts");
  const { calendarDate } = await import("../calendar-date.ts");
  const judging = limitsOn(read.models, station.approvers, calendarDate(Date.now()));
  return judging.find((limits) => limits.model === model)?.retest ?? null;
}

function refuse(sentence: string): 1 {
  process.stderr.write(`${escaped(sentence)} Nothing was recorded.\n`);
  return 1;
}
