import { existsSync } from "node:fs";
import { Command, Option } from "@commander-js/extra-typings";
import { UsageError } from "../explain.ts";
import { indexPath } from "../records/index-name.ts";
import { YIELD_GROUPINGS, type YieldGrouping } from "../yield/yield-report.ts";
import { YIELD_TABLES } from "../yield-export/yield-tables.ts";
import { collectOften, optimizeLater } from "./engine-flags.ts";
import { requireOptionsOf, YIELD_FORMATS } from "./yield-formats.ts";

/** Named one by one; the others are counted. */
const BROKEN_NAMED = 20;

/**
 * `drumtight yield`: 0 counted, also where nothing was tested; 1 counted, but travellers are not as they were recorded; 2 used
 * wrongly, or nothing can be counted.
 */
export function yieldCommand() {
  const formats = Object.keys(YIELD_FORMATS);
  return new Command("yield")
    .description(
      "What days came to: units inspected, good at first pass, reworked, scrapped and held, what failed and where. A unit counts once, on the day of its first inspection. The station may be running.",
    )
    .addOption(
      new Option("--day <day>", "one day, like 2026-01-31; today unless said otherwise").conflicts([
        "from",
        "to",
      ]),
    )
    .option("--from <day>", "first day; alone: from then on")
    .option("--to <day>", "last day; alone: up to then")
    .option("--by <groupings>", `one or several of ${YIELD_GROUPINGS.join(", ")}, with commas between them`)
    .option("--model <name>", "only this model")
    .option("--at <station>", "only what was tested at the station of this name")
    .option("--records <dir>", 'records folder; the station file\'s, else "records", unless said otherwise')
    .option("--station <file>", "station file: its records, shifts and time zone")
    .option(
      "--time-zone <name>",
      "whose days and hours: like Europe/Berlin; the station file's, else this computer's",
    )
    .addOption(new Option("--format <format>", "what comes out").choices(formats).default(formats[0] ?? ""))
    .addOption(
      new Option(
        "--decimal <sign>",
        "of csv: comma for spreadsheets that want decimal commas, with semicolons between",
      ).choices(["point", "comma"] as const),
    )
    .addOption(
      new Option("--what <table>", "of csv: which table; groups unless said otherwise").choices(YIELD_TABLES),
    )
    .option("--out <file>", "write to a file instead of standard output")
    .option("--force", "replace the file if it is there already")
    .addHelpText(
      "after",
      `
Exit code 0: counted, also where nothing was tested; 1: travellers that are not as they were recorded were left out; 2: used wrongly.

Examples:
  drumtight yield
  drumtight yield --day 2026-01-05 --by shift,cavity --station station.yaml
  drumtight yield --from 2026-01-01 --to 2026-01-31 --by day --records records
  drumtight yield --day 2026-01-05 --station station.yaml --format csv --what units --out units.csv
  drumtight yield --day 2026-01-05 --station station.yaml --format html --out 2026-01-05.html`,
    )
    .action(async (options) => {
      process.exitCode = await countYield(options);
    });
}

type YieldOptions = ReturnType<ReturnType<typeof yieldCommand>["opts"]>;

async function countYield(options: YieldOptions): Promise<0 | 1> {
  const { out, force } = options;
  const asked = options.by === undefined ? undefined : groupingsIn(options.by);
  const format = YIELD_FORMATS[options.format];
  if (!format) throw new UsageError(`There is no format ${options.format}.`);
  requireOptionsOf(options.format, options);
  optimizeLater();
  const { requireOutputPlace, writeOutput } = await import("./output-file.ts");
  const { folder, shifts } = await stationOf(options);
  if (existsSync(indexPath(folder))) collectOften();
  const place = { out, force, what: format.what, isBinary: format.isBinary === true, records: folder };
  await requireOutputPlace(place);
  const { collectAnswer } = await import("../yield-page/collect-answer.ts");
  const { from, to } = await daysOf(options);
  const by = asked ?? format.groupings?.(from, to) ?? [];
  const listsUnits = options.what === "units";
  const query = { folder, from, to, by, shifts, model: options.model, station: options.at, listsUnits };
  const { warnings = false, detail = false } = format.tells ?? {};
  const answer = await collectAnswer(query, { warnings, detail });
  const { decimal, what } = options;
  const file = out === "-" ? undefined : out;
  await writeOutput(await format.write(answer, { decimal, what, file }), place);
  const { broken } = answer.report.source;
  if (broken.length === 0) return 0;
  const { escaped } = await import("../../limits/escaped-text.ts");
  const named = broken.slice(0, BROKEN_NAMED).map(({ path, problem }) => `${path} is left out: ${problem}.`);
  const more = broken.length - named.length;
  const lines = [
    ...named,
    ...(more > 0 ? [`${more} more are left out: --format json names them all.`] : []),
    "Travellers are not as they were recorded. Tell the quality engineer.",
  ];
  process.stderr.write(lines.map((line) => `${escaped(line)}\n`).join(""));
  return 1;
}

/** @throws UsageError for one that there is not, or one that comes twice */
function groupingsIn(text: string): YieldGrouping[] {
  const found: YieldGrouping[] = [];
  for (const word of text.split(",")) {
    const asked = word.trim().toLowerCase();
    const by = YIELD_GROUPINGS.find((it) => it === asked);
    if (by === undefined) {
      throw new UsageError(
        `Nothing can be counted by ${JSON.stringify(word.trim())}: give some of ${YIELD_GROUPINGS.join(", ")}.`,
      );
    }
    if (found.includes(by)) throw new UsageError(`--by names ${by} twice: give it once.`);
    found.push(by);
  }
  return found;
}

async function daysOf({ day, from, to }: YieldOptions): Promise<{ from: string | null; to: string | null }> {
  if (from !== undefined || to !== undefined) return { from: from ?? null, to: to ?? null };
  const { calendarDate } = await import("../calendar-date.ts");
  const only = day ?? calendarDate(Date.now());
  return { from: only, to: only };
}

/** The station file is read only where one is given: to do so takes longer than to count a day. */
async function stationOf({ records, station, timeZone }: YieldOptions) {
  const { takeTimeZone } = await import("../time-zone.ts");
  if (station === undefined) {
    if (timeZone !== undefined) takeTimeZone(timeZone);
    return { folder: records ?? "records", shifts: [] };
  }
  const { readStationFileAlone } = await import("../load-station.ts");
  const file = readStationFileAlone(station);
  if (timeZone !== undefined) takeTimeZone(timeZone);
  return { folder: records ?? file.recordsFolder, shifts: file.shifts };
}
