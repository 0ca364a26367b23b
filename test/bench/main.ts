import type { Figure } from "./figure.ts";
import { shiftBench } from "./shift.ts";
import { startUpBench } from "./start-up.ts";
import { travellerBench } from "./traveller.ts";

/** `npm run bench [-- NAME...] [--json]`: ratios measured in one run; the method stands beside each bench. */
const BENCHES: Readonly<Record<string, () => Promise<Figure[]>>> = {
  shift: shiftBench,
  traveller: travellerBench,
  "start-up": startUpBench,
};

const args = process.argv.slice(2);
const names = args.filter((arg) => arg !== "--json");
const unknown = names.find((name) => !(name in BENCHES));
if (unknown === undefined) {
  const figures: Figure[] = [];
  for (const [name, bench] of Object.entries(BENCHES)) {
    if (names.length === 0 || names.includes(name)) figures.push(...(await bench()));
  }
  process.stdout.write(
    args.includes("--json")
      ? `${JSON.stringify(figures)}\n`
      : figures.map((figure) => `${row(figure)}\n`).join(""),
  );
} else {
  process.stderr.write(`There is no bench ${unknown}; there are: ${Object.keys(BENCHES).join(", ")}.\n`);
  process.exitCode = 2;
}

function row({ bench, figure, value, unit, against, ratio, reach, met }: Figure): string {
  const ratioText = ratio.toPrecision(3);
  return `${bench.padEnd(10)} ${figure}: ${value.toPrecision(3)} ${unit}; ${ratioText} x ${against}; reach ${reach}: ${met ? "met" : "not met"}`;
}
