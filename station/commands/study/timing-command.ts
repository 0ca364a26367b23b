import { Command, Option } from "@commander-js/extra-typings";
import type { LeakMethod } from "../../../limits/model.ts";
import { calendarDate } from "./calendar-date.ts";

const METHODS = ["fitted", "slope", "difference"] as const satisfies readonly LeakMethod["kind"][];

/** `drumtight study timing`: 0 a setting keeps the risks, 1 none does, 2 used wrongly or too little recorded. */
export function timingCommand() {
  return new Command("timing")
    .description(
      "Find from recorded leak curves how short a leak test may be at stated risks of a wrong verdict.",
    )
    .requiredOption("--model <name>", "model to study")
    .option(
      "--records <dir>",
      "records folder, instead of the station file's; a station may be writing to it",
    )
    .option("--station <file>", "station file the curves were recorded with, instead of the demo station's")
    .option("--limits <file>", "limit file (YAML), instead of the one the station has of the model")
    .addOption(
      new Option("--from <date>", "first day of the attempts, like 2026-01-05").argParser(calendarDate),
    )
    .addOption(new Option("--to <date>", "last day of the attempts").argParser(calendarDate))
    .addOption(new Option("--method <name>", "another method than the limit file's").choices(METHODS))
    .option("--subtract-mean-curve", "with slope or difference: take the learned mean curve off first")
    .option("--settle <times>", 'settling times to try, like "1 s, 5 s"')
    .option("--measure <times>", 'measuring times to try, like "2 s, 4 s, 8 s"')
    .option("--longest <time>", "longest time of both; curves that are shorter are left out")
    .option("--false-accept <part>", 'most units bad and accepted, of all, like "0.1 %"')
    .option("--false-reject <part>", 'most units good and rejected, of all, like "1 %"')
    .option("--json", "print one JSON object")
    .option("--html <file>", "write a page of its own")
    .addHelpText("after", HELP)
    .action(async (options) => {
      const { studyTimingOf } = await import("./timing.ts");
      process.exitCode = await studyTimingOf(options);
    });
}

const HELP = `
Each curve is measured again at every pair of times it covers, as the station would, and held against the value of the
whole curve. The error taken is the budget's or the one found, whichever is more. Risks are JCGM 106:2012, 9.5: parts of
all units tested that would be bad and accepted, or good and rejected, each unit's leak being taken as normal about its
value with its uncertainty. A risk not given is 1 - conformance, by the limit file's rule. Where the limit file has an early
verdict, what its looks risk is counted in, and the time is told after which half of the good units have their verdict.

Curves that an early verdict ended are too short for longer settings. Reference pieces are always measured to the end. To
record units to the end, test some with a draft of the limit file that has early_verdict: "off" and a measure_longest as
long as may be of interest (drumtight run --draft): such tests count for nothing else.

Examples:
  drumtight study timing --model TUB-12 --records records --station station.yaml
  drumtight study timing --model POD-4 --method slope --false-accept "0.1 %" --false-reject "1 %" --html timing.html`;
