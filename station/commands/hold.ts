import { Command } from "@commander-js/extra-typings";
import { escaped } from "../../limits/escaped-text.ts";
import type { UnitStanding } from "../records/dispositions.ts";

interface HoldOptions {
  readonly fromFile?: string;
  readonly part?: string[];
  readonly model?: string;
  readonly reason: string;
  readonly as?: string;
  readonly records?: string;
  readonly station?: string;
  readonly json?: true;
}

/** `drumtight hold`: 0 on hold, 1 the records say no or not all could be looked at, 2 used wrongly, not allowed, or cannot run. */
export function holdCommand() {
  return new Command("hold")
    .description(
      "stop units: whatever was or will be measured, none is sent on before a supervisor releases it",
    )
    .argument("[serial...]", "serials as scanned; all or none of them are held")
    .option("--from-file <file>", 'serials from a file, one a line; "-" reads standard input')
    .option("--part <name=value...>", "every recorded unit of --model with this tracked part, like a bad lot")
    .option("--model <model>", "for --part: whose units")
    .requiredOption(
      "--reason <text>",
      "why they are stopped; it is recorded, and told wherever one is scanned",
    )
    .option("--as <name>", "who stops them; where people sign in, the PIN is asked for (or DRUMTIGHT_PIN)")
    .option("--records <dir>", 'records folder, instead of the station file\'s; "records" without either')
    .option("--station <file>", "station file: its records, and who signs in there")
    .option("--json", "print the record as JSON")
    .addHelpText(
      "after",
      `
Anybody may stop a unit, also one that is on hold for another reason, or is being tested: its verdict then says so. The
measurements stay what they are. The record stops nobody who does not look: fetch back what has left the line, and put it
where nobody sends it on. The station may be running.

Example:
  $ drumtight hold POD000123 --reason "dented at the latch" --station line-2.yaml --as "A. Marsh"
  $ drumtight hold --part gasket_lot=G2411 --model POD-4 --reason "gaskets of G2411 are too hard" --station line-2.yaml --as "A. Marsh"`,
    )
    .action(async (serials, options) => {
      process.exitCode = await hold(serials, options);
    });
}

async function hold(given: readonly string[], options: HoldOptions): Promise<0 | 1> {
  const { recordsAt, requireText } = await import("./records-at.ts");
  const { serialsAsked } = await import("./serials-asked.ts");
  const { decideOnUnits, refuseAll } = await import("./decide-on-units.ts");
  const { heldTravellers } = await import("../records/doubts.ts");
  const { serialsUnderTest } = await import("../records/open-attempts-beside.ts");
  const sentence = requireText("--reason", options.reason);
  const at = recordsAt(options);
  const { serials, notes, broken } = await serialsAsked(given, options, at.folder);
  const isLot = options.part !== undefined;
  const isHeldForThis = ({ serial, dispositions }: UnitStanding) =>
    [...heldTravellers(dispositions).byHand.values()].some(
      (unit) => unit.serial === serial && unit.holds.some(({ reason }) => reason.sentence === sentence),
    );
  const decided = await decideOnUnits({
    act: "hold",
    at,
    as: options.as,
    serials,
    // A list that is held a second time, with some more in it, must not be refused for those it has held already.
    isPassedOver: (unit) => (!unit.isScrapped && isHeldForThis(unit)) || (isLot && unit.isScrapped),
    reason: { code: "ON_HOLD", sentence },
    whereProven:
      "These units were tested where people sign in: say who you are, with --station FILE of that station and --as NAME.",
  });
  if (decided.kind === "refused") return refuseAll(decided.sentences);
  const { disposition, units, passedOver } = decided;
  const underTest = isLot ? [...(await serialsUnderTest(at.folder))] : [];
  const unseen = underTest.filter((serial) => !serials.includes(serial));
  if (options.json) process.stdout.write(`${JSON.stringify(disposition)}\n`);
  else
    process.stdout.write(
      `${[
        ...heldLines(
          units.map(({ serial }) => serial),
          disposition,
        ),
      ]
        .map(escaped)
        .join("\n")}\n`,
    );
  const said = [
    ...notes,
    ...passedOver.map(({ serial, isScrapped }) =>
      isScrapped ? `${serial}: was scrapped already` : `${serial}: is on hold for this reason already`,
    ),
    ...unseen.map(
      (serial) => `${serial} is being tested: if it has this part, hold it once its test has ended.`,
    ),
    ...broken.map(
      ({ path, problem }) =>
        `${path} is not as it was recorded, and may be of a unit that was meant: ${problem}. Tell the quality engineer.`,
    ),
  ];
  process.stderr.write(said.map((line) => `${escaped(line)}\n`).join(""));
  return broken.length > 0 ? 1 : 0;
}

function* heldLines(
  serials: readonly string[],
  disposition: { readonly chain: { readonly sequence: number } } | null,
): Generator<string> {
  if (disposition === null) {
    yield "Nothing was recorded: all of them are on hold for this reason.";
    return;
  }
  for (const serial of serials) yield `${serial}: on hold, do not ship`;
  const units = serials.length === 1 ? "1 unit" : `${serials.length} units`;
  yield `Hold number ${disposition.chain.sequence}, ${units}: lifted by drumtight release --hold ${disposition.chain.sequence}`;
}
