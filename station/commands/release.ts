import { Command } from "@commander-js/extra-typings";
import { escaped } from "../../limits/escaped-text.ts";
import type { Dispositions } from "../records/dispositions.ts";
import type { UnitInDoubt } from "../records/doubts.ts";
import { underTestText } from "./under-test-text.ts";

interface ReleaseOptions {
  readonly all?: true;
  readonly reason: string;
  readonly as: string;
  readonly records?: string;
  readonly station?: string;
  readonly json?: true;
}

/** `drumtight release`: 0 released, 1 a unit is not in doubt, 2 used wrongly, not allowed, or cannot run. */
export function releaseCommand() {
  return new Command("release")
    .description("release units in doubt: what they were found to be counts again")
    .argument("[serial...]", "serials as scanned; all or none of them are released")
    .option("--all", "every unit that drumtight suspects lists")
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
  $ drumtight release POD000123 POD000124 --reason "leak piece was not seated, both bodies checked again by hand" --station line-2.yaml --as "B. Imani"`,
    )
    .action(async (serials, options) => {
      process.exitCode = await release(serials, options);
    });
}

async function release(serials: readonly string[], options: ReleaseOptions): Promise<0 | 1> {
  const { UsageError } = await import("../explain.ts");
  const { recordsAt, requireText, whoDecides } = await import("./records-at.ts");
  const { openDispositions } = await import("../records/dispositions.ts");
  const { decider } = await import("../records/disposition.ts");
  if ((serials.length === 0) === (options.all === undefined)) {
    throw new UsageError("Say what is released: serials, or --all.");
  }
  const sentence = requireText("--reason", options.reason);
  const at = recordsAt(options);
  const dispositions = await openDispositions(at.folder);
  const chosen = await choose(dispositions, serials, at.folder);
  if ("refusal" in chosen) return refuse(chosen.refusal);
  const who = await whoDecides({
    at,
    as: options.as,
    least: "supervisor",
    tests: await dispositions.testsOf(chosen.units),
    whereProven:
      "These units were tested where people sign in: a supervisor releases them, with --station FILE of that station.",
  });
  // While a PIN was typed, units may have been tested again, or held once more.
  const now = await choose(dispositions, serials, at.folder);
  if ("refusal" in now || holdsOf(now.units) !== holdsOf(chosen.units)) {
    return refuse("What is in doubt has changed meanwhile: look at drumtight suspects, then release again.");
  }
  const recorded = await dispositions.dispose({
    kind: "accept",
    by: decider(who),
    units: chosen.units.map(({ serial, attempt, traveller }) => ({ serial, attempt, traveller })),
    reason: { code: "RELEASED", sentence },
  });
  process.stdout.write(
    options.json
      ? `${JSON.stringify(recorded)}\n`
      : `${chosen.units.map(({ serial, verdict }) => `${escaped(serial)}: released, counts as ${verdict}`).join("\n")}\n`,
  );
  return 0;
}

type Choice = { readonly units: readonly UnitInDoubt[] } | { readonly refusal: string };

/** @param serials none for all */
async function choose(
  dispositions: Dispositions,
  serials: readonly string[],
  folder: string,
): Promise<Choice> {
  const { serialsUnderTest } = await import("../records/open-attempts-beside.ts");
  const underTest = await serialsUnderTest(folder);
  const inDoubt = (await dispositions.inDoubt()).filter(({ isScrapped }) => !isScrapped);
  const begun = inDoubt.find(
    ({ serial }) => underTest.has(serial) && (serials.length === 0 || serials.includes(serial)),
  );
  if (begun) return { refusal: underTestText(begun.serial) };
  if (serials.length === 0) {
    return inDoubt.length > 0 ? { units: inDoubt } : { refusal: `No unit is in doubt in ${folder}.` };
  }
  for (const serial of new Set(serials)) {
    if (inDoubt.some((unit) => unit.serial === serial)) continue;
    const { attempts } = await dispositions.standingOf(serial);
    return {
      refusal:
        attempts.length === 0
          ? `No attempt of ${serial} is recorded in ${folder}: check the serial, or give another --records folder.`
          : `Unit ${serial} is not in doubt: there is nothing to release.`,
    };
  }
  return { units: inDoubt.filter(({ serial }) => serials.includes(serial)) };
}

/** Tells whether two looks found the same holds on the same travellers. */
function holdsOf(units: readonly UnitInDoubt[]): string {
  return JSON.stringify(
    units.map(({ traveller, holds }) => [traveller, holds.map(({ chain }) => chain.sequence)]),
  );
}

function refuse(sentence: string): 1 {
  process.stderr.write(`${escaped(sentence)} Nothing was recorded.\n`);
  return 1;
}
