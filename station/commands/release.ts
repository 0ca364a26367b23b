import { Command } from "@commander-js/extra-typings";
import { escaped } from "../../limits/escaped-text.ts";

interface ReleaseOptions {
  readonly all?: true;
  readonly hold?: string;
  readonly everyHold?: true;
  readonly fromFile?: string;
  readonly reason: string;
  readonly as: string;
  readonly records?: string;
  readonly station?: string;
  readonly json?: true;
}

/** `drumtight release`: 0 released, 1 a unit is neither on hold nor in doubt, 2 used wrongly, not allowed, or cannot run. */
export function releaseCommand() {
  return new Command("release")
    .description("release units on hold or in doubt: what they were found to be counts again")
    .argument("[serial...]", "serials as scanned; all or none of them are released")
    .option("--from-file <file>", 'serials from a file, one a line; "-" reads standard input')
    .option("--all", "every unit in doubt that drumtight suspects lists; holds by hand stay")
    .option("--hold <number>", "only this hold, from every unit that it holds, or from the serials given")
    .option("--every-hold", "for a unit that is held for several reasons: lift all of them")
    .requiredOption("--reason <text>", "why they can be trusted after all; it is recorded")
    .requiredOption(
      "--as <supervisor>",
      "your name; where people sign in, your PIN is asked for (or DRUMTIGHT_PIN)",
    )
    .option("--records <dir>", 'records folder, instead of the station file\'s; "records" without either')
    .option("--station <file>", "station file: its records, and who signs in there")
    .option("--json", "print the record as JSON")
    .addHelpText(
      "after",
      `
A unit whose test was made where people sign in is released by a supervisor who proves who they are: give --station with the
file of the station that tested it. A unit that failed stays failed; one that is being tested is not released. The station
may be running.

Keep the records, the station file and the people file writable for the station's account only: whoever can change them
needs no PIN.

Example:
  $ drumtight release POD000123 POD000124 --reason "leak piece was not seated, both bodies checked again by hand" --station line-2.yaml --as "B. Imani"
  $ drumtight release --hold 12 --reason "lot G2411 measured, within its drawing" --station line-2.yaml --as "B. Imani"`,
    )
    .action(async (serials, options) => {
      process.exitCode = await release(serials, options);
    });
}

async function release(given: readonly string[], options: ReleaseOptions): Promise<0 | 1> {
  const { UsageError } = await import("../explain.ts");
  const { recordsAt, requireText, whoDecides } = await import("./records-at.ts");
  const { openDispositions } = await import("../records/dispositions.ts");
  const { decider } = await import("../records/disposition.ts");
  const { LEAST_ROLE } = await import("../disposition-rules.ts");
  const { chooseHolds, holdsIn } = await import("./choose-holds.ts");
  const { refuseAll } = await import("./decide-on-units.ts");
  const { serialsAsked } = await import("./serials-asked.ts");
  const isNamed = given.length > 0 || options.fromFile !== undefined;
  if (options.all ? isNamed || options.hold !== undefined : !isNamed && options.hold === undefined) {
    throw new UsageError("Say what is released: serials, or --all, or --hold.");
  }
  if (options.hold !== undefined && options.everyHold) {
    throw new UsageError("Say which is lifted: --hold NUMBER, or --every-hold.");
  }
  const hold = options.hold === undefined ? null : Number(options.hold);
  if (hold !== null && !(Number.isInteger(hold) && hold > 0)) {
    throw new UsageError("--hold: expected the number of a hold, as drumtight find and suspects show it.");
  }
  const sentence = requireText("--reason", options.reason);
  const at = recordsAt(options);
  const named = isNamed ? await serialsAsked(given, options, at.folder) : null;
  const asked = {
    folder: at.folder,
    serials: named?.serials ?? null,
    hold,
    isEveryHold: options.everyHold === true,
  };
  const dispositions = await openDispositions(at.folder);
  const chosen = await chooseHolds(dispositions, asked);
  if (chosen.refusals.length > 0) return refuseAll(chosen.refusals);
  const who = await whoDecides({
    at,
    as: options.as,
    least: LEAST_ROLE.release,
    tests: await dispositions.testsOf(chosen.holds.map(({ unit }) => unit)),
    whereProven:
      "These units were tested where people sign in: a supervisor releases them, with --station FILE of that station.",
  });
  // While a PIN was typed, units may have been tested again, or held once more.
  const now = await chooseHolds(dispositions, asked);
  if (now.refusals.length > 0 || holdsIn(now) !== holdsIn(chosen)) {
    return refuseAll([
      "What is on hold or in doubt has changed meanwhile: look at drumtight suspects, then release again.",
    ]);
  }
  const units = new Map(chosen.holds.map(({ unit }) => [unit.traveller, unit]));
  const recorded = await dispositions.dispose({
    kind: "accept",
    by: decider(who),
    units: [...units.values()].map(({ serial, attempt, traveller }) => ({ serial, attempt, traveller })),
    reason: { code: "RELEASED", sentence },
    lifts: [...new Set(chosen.holds.map(({ number }) => number))].sort((a, b) => a - b),
  });
  if (options.json) process.stdout.write(`${JSON.stringify(recorded)}\n`);
  else {
    const { releasedText } = await import("./released-text.ts");
    const serials = [...new Set(chosen.holds.map(({ unit }) => unit.serial))];
    const standings = await dispositions.standingsOf(serials);
    process.stdout.write(standings.map((unit) => `${escaped(releasedText(unit))}\n`).join(""));
  }
  process.stderr.write((named?.notes ?? []).map((line) => `${escaped(line)}\n`).join(""));
  return 0;
}
