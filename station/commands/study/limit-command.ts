import { Command, Option } from "@commander-js/extra-typings";
import { calendarDate } from "./calendar-date.ts";

/** `drumtight study limit`: 0 a limit follows, 1 none does, 2 used wrongly or the data give none. */
export function limitCommand() {
  return new Command("limit")
    .description("Find a leak limit from the suction that must be left, or from what came back.")
    .argument("[csv]", "field data, leak,returned with 0 or 1 (- for standard input)")
    .requiredOption("--model <name>", "model whose limit file the line is for")
    .option("--station <file>", "station file, instead of the demo station's")
    .option("--limits <file>", "limit file (YAML), instead of the one the station has of the model")
    .option("--returned-at-most <part>", 'chance of a return to be kept, with field data, like "1 %"')
    .option("--unit <unit>", "leak rate unit of the field data; without, the limit file's")
    .option("--least-suction-power <power>", 'to be left at the working point, like "180 W"')
    .option("--least-suction <pressure>", 'or the suction to be left there, like "15 kPa"')
    .option("--records <dir>", "records folder of the fans, instead of the station file's")
    .addOption(
      new Option("--from <date>", "first day of the attempts, like 2026-01-05").argParser(calendarDate),
    )
    .addOption(new Option("--to <date>", "last day of the attempts").argParser(calendarDate))
    .option("--point <name>", "working point, of the limit file's airflow step (working where not given)")
    .option("--share <part>", "part of the cleaners that must keep it at the limit (95 % where not given)")
    .option("--sealed-suction <pressure>", "a stated fan instead of records: suction at no flow")
    .option("--open-flow <flow>", "its flow at no suction")
    .option("--middle-flow <flow>", "of one more point of its curve, which bends it")
    .option("--middle-suction <pressure>", "of that point")
    .option("--working-flow <flow>", "through the inlet at its working point")
    .option("--fan-spread <part>", 'how far such fans differ in suction: standard deviation, like "3 %"')
    .option("--json", "print one JSON object")
    .option("--html <file>", "write a page of its own")
    .addHelpText("after", HELP)
    .action(async (csv, options) => {
      const { studyLimit } = await import("./limit.ts");
      process.exitCode = await studyLimit(csv, options);
    });
}

const HELP = `
Field data: logistic regression of returned on leak by maximum likelihood; the leak at which the chance asked for is
reached, less its distance to the lower end of the 95 % interval by profile likelihood.
Suction: for the fan of each unit that passed, or a stated one, the leak that leaves just what is required at the working
point (balance of fan and system, as in drumtight calc leak-cost); of the units the leak that the stated share stands. How far stated fans
differ is told by --fan-spread, the standard deviation of their suctions at any flow as a part of it: the fan that the stated
share exceeds is then taken (normal distribution).
Where the limit file's rule is guarded the station draws its acceptance in by itself; where it is simple 1.645 standard
uncertainties are taken off the limit (JCGM 106:2012, 8.3.2, conformance 95 %).

Examples:
  drumtight study limit returns.csv --model TUB-12 --returned-at-most "1 %"
  drumtight study limit --model TUB-12 --least-suction-power "250 W" --records records --station station.yaml
  drumtight study limit --model TUB-12 --least-suction "14 kPa" --sealed-suction "22 kPa" --open-flow "68 L/s" --working-flow "20 L/s" --fan-spread "3 %"`;
