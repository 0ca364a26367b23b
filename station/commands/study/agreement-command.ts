import { Command, Option } from "@commander-js/extra-typings";
import { PLAN_OPTION } from "./planned.ts";
import { withPartOption } from "./records-options.ts";

/** `drumtight study agreement`: 0 fit or marginal, or too little to say; 1 not fit; 2 used wrongly or no study. */
export function agreementCommand() {
  return withPartOption(new Command("agreement"))
    .description(
      "Good or bad by eye or by gauge: do appraisers agree with themselves, each other and the truth?",
    )
    .argument(
      "[csv]",
      "CSV file with the columns unit,appraiser,trial,rating and perhaps reference; - for standard input",
    )
    .option(
      "--bad <rating>",
      "rating that rejects, for miss and false alarm rates; may be given several times",
      (rating: string, known: string[]) => [...known, rating],
      [] as string[],
    )
    .addOption(
      new Option("--appraiser <who>", "from records: whose verdicts are compared")
        .choices(["inspector", "station"])
        .default("inspector"),
    )
    .option(...PLAN_OPTION)
    .option("--json", "print one JSON object")
    .option("--html <file>", "write a page to print, too")
    .addHelpText(
      "after",
      `
Kappa within each appraiser (Fleiss), between two (Cohen, the same unit and trial) and all (Fleiss), and against the
reference (Cohen); effectiveness is the share of units that an appraiser rates right each time. Of two ratings, the one that
is called fail, bad, reject, nok, 0 or the like rejects; else say which with --bad. Rate 50 units, a third of them bad and
some near the limit, two or three times each, in random order (AIAG, Measurement Systems Analysis, 4th ed.).

From records the station's verdicts on units that it tested more than once are the ratings, of the whole unit or of one
--characteristic. Reworked units begin anew.

Examples:
  drumtight study agreement ratings.csv
  drumtight study agreement ratings.csv --bad scrap --bad rework --json
  drumtight study agreement --records records --model TUB-12 --appraiser station
  drumtight study agreement --records records --study agreement.json`,
    )
    .action(async (csv, options) => {
      const { studyAgreement } = await import("./agreement.ts");
      process.exitCode = await studyAgreement(csv, options);
    });
}
