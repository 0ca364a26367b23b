import { Argument, Command, InvalidArgumentError } from "@commander-js/extra-typings";
import { PLANNED_STUDIES } from "../../guided-study/planned-studies.ts";

/** `drumtight study plan`: 0 written, 2 used wrongly or can't be written. */
export function planCommand() {
  return new Command("plan")
    .description("Plan a study to be measured at the station: which piece next, by whom, in random order.")
    .addArgument(new Argument("<study>", "what is to be studied").choices(PLANNED_STUDIES))
    .requiredOption("--station <file>", "station file of the station that will measure")
    .requiredOption("--model <name>", "model of the pieces")
    .option(
      "--characteristic <name>",
      "what is studied, as the limit file names it, like leak_rate; not for agreement",
    )
    .requiredOption("--parts <serials>", "serials of units or reference pieces, with commas between", list)
    .option(
      "--references <known>",
      "what is known of them, like S1=30,S2=12.5 (values) or S1=pass,S2=fail (agreement)",
      known,
      new Map<string, string>(),
    )
    .requiredOption("--appraisers <names>", "who measures, with commas between, as they sign in", list)
    .option("--trials <count>", "how often each measures each piece, instead of what is usual", wholeNumber)
    .option("--seed <number>", "what the order is drawn from, instead of by chance", wholeNumber)
    .option("--name <name>", "name of the study, instead of the plan file's")
    .requiredOption("--out <file>", "plan file to be written, like rr-1.json")
    .option("--draft", "plan it for a draft of the limit file where there is one; run it with --draft, too")
    .option("--json", "print one JSON object")
    .addHelpText(
      "after",
      `
In each trial each appraiser measures all pieces, in an order that is drawn anew; the plan keeps it. Trials: repeatability 3,
type1 25, bias 10, agreement 3. Reference pieces of the station come with their certified leak rates. Then
drumtight run --station FILE --study PLAN asks for one piece after the other, and drumtight study STUDY --study PLAN evaluates.

Examples:
  drumtight study plan repeatability --station station.yaml --model POD-4 --characteristic leak_rate \\
    --parts POD531814,POD531822,POD531830 --appraisers "A. Marsh,B. Reyes" --out rr-1.json
  drumtight study plan type1 --station station.yaml --model POD-4 --characteristic leak_rate \\
    --parts REF-LEAK-POD-4 --appraisers "A. Marsh" --out t1.json`,
    )
    .action(async (study, options) => {
      const { writePlan } = await import("./plan.ts");
      await writePlan({ study, ...options });
    });
}

function list(text: string): string[] {
  return text
    .split(",")
    .map((one) => one.trim())
    .filter((one) => one !== "");
}

function known(text: string, before: ReadonlyMap<string, string>): Map<string, string> {
  const all = new Map(before);
  for (const one of list(text)) {
    const at = one.lastIndexOf("=");
    if (at < 1 || at === one.length - 1)
      throw new InvalidArgumentError("Give a serial and what is known of it, like S1=30.");
    all.set(one.slice(0, at).trim(), one.slice(at + 1).trim());
  }
  return all;
}

function wholeNumber(text: string): number {
  if (!/^\d{1,9}$/.test(text)) throw new InvalidArgumentError("Give a whole number, like 3.");
  return Number(text);
}
