import { Command, InvalidArgumentError, Option } from "@commander-js/extra-typings";
import type { Scan } from "../cycle/station-machine.ts";
import type { SimulatedStation } from "../wiring.ts";

interface RunOptions {
  readonly station?: string;
  readonly simulate?: true;
  readonly seed: number;
  readonly units?: number;
  readonly records?: string;
  readonly inspector?: string;
  readonly model?: string;
  readonly start: "scan" | "button";
  readonly draft?: true;
  readonly json?: true;
}

const DEFAULT_UNITS = 12;

/** `drumtight run`: 0 all scans were tested, 1 some could not be started or the station stopped, 2 used wrongly or cannot run. */
export function runCommand() {
  return new Command("run")
    .description(
      "Test units: the inspector's screen on a terminal, a line or --json event per unit without one.",
    )
    .addOption(new Option("--station <file>", "station file of a real station").conflicts("simulate"))
    .addOption(new Option("--simulate", "the demo plant's station, every instrument simulated"))
    .option("--seed <number>", "seed of the simulated units", wholeNumber, 7)
    .option(
      "--units <count>",
      "stop after this many units; simulated units are then taken from the seed, without a screen",
      wholeNumber,
    )
    .option("--records <dir>", "folder the travellers are written to, instead of the station file's")
    .option("--inspector <name>", "who tests, for stations whose file says sign_in: name")
    .option("--model <name>", "only this model is on the line now; serials of others are refused")
    .addOption(
      new Option("--start <by>", "start with the scan or with the fixture's button")
        .choices(["scan", "button"])
        .default("scan"),
    )
    .option("--draft", "allow limit files nobody has approved; marked on every traveller, never counted")
    .option("--json", "one JSON event per line")
    .addHelpText(
      "after",
      `
Without a terminal, serials are read from standard input, one a line, as a scanner types them; tracked parts
may follow as name=value.

Examples:
  drumtight run --simulate --seed 7 --units 100 --json
  drumtight run --station /etc/drumtight/station.yaml
  printf 'POD000123 tub_cavity=2\\n' | drumtight run --station station.yaml`,
    )
    .action(async (options) => {
      process.exitCode = await run(options);
    });
}

function wholeNumber(text: string): number {
  if (!/^\d{1,9}$/.test(text)) throw new InvalidArgumentError("Give a whole number, like 7.");
  return Number(text);
}

async function run(options: RunOptions): Promise<0 | 1> {
  const { UsageError } = await import("../explain.ts");
  if (!options.simulate && options.station === undefined) {
    throw new UsageError("Say which station: --station FILE, or --simulate for the demo station.");
  }
  const isInteractive =
    Boolean(process.stdin.isTTY && process.stdout.isTTY) && !options.json && options.units === undefined;
  if (isInteractive) return runScreen(options);
  return options.simulate ? runSimulated(options) : runFromStandardInput(options, options.station ?? "");
}

async function runSimulated(options: RunOptions): Promise<0 | 1> {
  const { openSimulatedStation } = await import("../wiring.ts");
  const simulated = await openSimulatedStation({
    seed: options.seed,
    pace: "virtual",
    allowDrafts: options.draft === true,
    ...(options.records === undefined ? {} : { recordsFolder: options.records }),
    ...(options.model === undefined ? {} : { onlyModel: options.model }),
  });
  const scans = () => simulatedScans(simulated, options.units ?? DEFAULT_UNITS);
  return runToEnd(
    { ...options, start: "scan" },
    simulated,
    simulated.recordsFolder,
    scans,
    simulated.runUntil,
  );
}

/** Puts each unit on before it is scanned, and the reference pieces first whenever their check is due. */
function* simulatedScans(
  { station, plant, population, referenceBodies }: SimulatedStation,
  count: number,
): Generator<Scan> {
  for (let k = 0; k < count; k++) {
    for (const piece of station.dueReferences()) {
      plant.mount(referenceBodies.get(piece.serial) ?? null);
      yield { serial: piece.serial, parts: {} };
    }
    const unit = population.unitAt(k);
    plant.mount(unit);
    yield { serial: unit.serial, parts: unit.parts };
  }
}

async function runFromStandardInput(options: RunOptions, stationPath: string): Promise<0 | 1> {
  const { loadStation, openStation } = await import("../wiring.ts");
  const { UsageError } = await import("../explain.ts");
  const { RealClock } = await import("../../drivers/real-clock.ts");
  const loaded = loadStation(stationPath, options.model);
  if (loaded.file.signIn === "name" && options.inspector === undefined) {
    throw new UsageError("This station asks who tests: say so with --inspector NAME.");
  }
  const recordsFolder = options.records ?? loaded.file.recordsFolder;
  const running = await openStation({
    ...loaded,
    clock: new RealClock(),
    recordsFolder,
    allowDrafts: options.draft === true,
  });
  const scans = (stop: AbortSignal) => scannedLines(stop, options.units);
  return runToEnd(options, running, recordsFolder, scans, (happened) => happened);
}

async function* scannedLines(signal: AbortSignal, count = Number.POSITIVE_INFINITY): AsyncGenerator<Scan> {
  const { createInterface } = await import("node:readline");
  const { parseScan } = await import("../run-scans.ts");
  const lines = createInterface({ input: process.stdin, crlfDelay: Number.POSITIVE_INFINITY, signal });
  try {
    let left = count;
    for await (const line of lines) {
      const scan = parseScan(line);
      if (!scan) continue;
      yield scan;
      if (--left <= 0) return;
    }
  } finally {
    lines.close();
    process.stdin.destroy();
  }
}

async function runToEnd(
  options: RunOptions,
  running: Pick<SimulatedStation, "station" | "interrupted" | "close">,
  recordsFolder: string,
  scansUntil: (stop: AbortSignal) => AsyncIterable<Scan> | Iterable<Scan>,
  runUntil: <T>(happened: Promise<T>) => Promise<T>,
): Promise<0 | 1> {
  const { EventReporter, LineReporter, Tally } = await import("../report.ts");
  const { reportOn, runScans } = await import("../run-scans.ts");
  const { OneByOne } = await import("../test-one.ts");
  const { stopOnSignal } = await import("../stop-on-signal.ts");
  const { station, interrupted } = running;
  const write = (text: string) => {
    process.stdout.write(text);
  };
  const reporter = options.json ? new EventReporter(write) : new LineReporter(write);
  const tally = new Tally();
  const stop = stopOnSignal(() => station.abort());
  try {
    reporter.interrupted(interrupted);
    reportOn(station, reporter, tally);
    station.signIn(options.inspector ?? null);
    const one = new OneByOne(station, { startsByButton: options.start === "button" });
    await runUntil(runScans(one, scansUntil(stop), stop));
  } finally {
    await running.close();
  }
  reporter.summary(tally, recordsFolder);
  return tally.refused + tally.faults === 0 && !stop.aborted ? 0 : 1;
}

async function runScreen(options: RunOptions): Promise<0 | 1> {
  const { showStation } = await import("../screen/show-station.tsx");
  return showStation(options);
}
