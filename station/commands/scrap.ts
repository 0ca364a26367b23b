import { Command } from "@commander-js/extra-typings";
import { escaped } from "../../limits/escaped-text.ts";

interface ScrapOptions {
  readonly fromFile?: string;
  readonly reason: string;
  readonly as: string;
  readonly records?: string;
  readonly station?: string;
  readonly json?: true;
}

/** `drumtight scrap`: 0 recorded, 1 the units' records say no, 2 used wrongly, not allowed, or cannot run. */
export function scrapCommand() {
  return new Command("scrap")
    .description("end units for good: they are neither tested nor sent on any more; nothing takes this back")
    .argument("[serial...]", "serials as scanned; all or none of them are scrapped")
    .option("--from-file <file>", 'serials from a file, one a line; "-" reads standard input')
    .requiredOption("--reason <text>", "why; it is recorded")
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
For a unit that failed, gave no valid measurement, is on hold or in doubt. One that passed is put on hold first
(drumtight hold), so that no good unit is scrapped by a slip. The station may be running.

Make a scrapped appliance unusable by licensed practice and local rules, so that nobody plugs it in again.

Example:
  $ drumtight scrap POD000123 --reason "tub cracked at the rib" --station line-2.yaml --as "B. Imani"`,
    )
    .action(async (serials, options) => {
      process.exitCode = await scrap(serials, options);
    });
}

async function scrap(given: readonly string[], options: ScrapOptions): Promise<0 | 1> {
  const { recordsAt, requireText } = await import("./records-at.ts");
  const { serialsAsked } = await import("./serials-asked.ts");
  const { decideOnUnits, refuseAll } = await import("./decide-on-units.ts");
  const sentence = requireText("--reason", options.reason);
  const at = recordsAt(options);
  const { serials, notes } = await serialsAsked(given, options, at.folder);
  const decided = await decideOnUnits({
    act: "scrap",
    at,
    as: options.as,
    serials,
    reason: { code: "SCRAPPED", sentence },
    whereProven:
      "These units were tested where people sign in: a supervisor scraps them, with --station FILE of that station.",
  });
  if (decided.kind === "refused") return refuseAll(decided.sentences);
  const { disposition, units } = decided;
  process.stdout.write(
    options.json
      ? `${JSON.stringify(disposition)}\n`
      : `${units.map(({ serial }) => `${escaped(serial)}: scrapped, for good`).join("\n")}\n`,
  );
  process.stderr.write(notes.map((line) => `${escaped(line)}\n`).join(""));
  return 0;
}
