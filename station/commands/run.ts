import { Command, InvalidArgumentError, Option } from "@commander-js/extra-typings";
import type { Clock } from "../../drivers/ports.ts";
import type { Scan } from "../cycle/scan.ts";
import type { StudySetup } from "../guided-study/study-setup.ts";
import type { SignedIn } from "../people/person.ts";
import type { HeadlessRun } from "../run-headless.ts";
import type { StationFile } from "../station-file.ts";
import type { RunningStation } from "../wiring.ts";

interface RunOptions {
  readonly station?: string;
  readonly simulate?: true;
  readonly seed: number;
  readonly speed: number;
  readonly units?: number;
  readonly drift?: string;
  readonly records?: string;
  readonly newRecords?: true;
  readonly inspector?: string;
  readonly model?: string;
  readonly start: "scan" | "button";
  readonly draft?: true;
  readonly study?: string;
  readonly json?: true;
}

const DEFAULT_UNITS = 12;
/** Starters of programs often leave standard input open and empty; after this wait nobody is scanning. */
const INPUT_WAIT_MS = 500;
const LINGER_MS = 200;

/** `drumtight run`: 0 all scans were tested, 1 some could not be started or the station stopped, 2 used wrongly or cannot run. */
export function runCommand() {
  return new Command("run")
    .description(
      "Test units: the inspector's screen on a terminal, a line or --json event per unit without one.",
    )
    .option("--station <file>", "station file")
    .addOption(
      new Option("--simulate", "every instrument simulated: of the demo plant's station, or of --station's"),
    )
    .option(
      "--speed <times>",
      "on the screen of a simulated station, time runs so many times as fast, 1 to 20",
      times,
      1,
    )
    .option("--seed <number>", "seed of the simulated units", wholeNumber, 7)
    .option(
      "--units <count>",
      "stop after this many units; simulated units are then taken from the seed, without a screen",
      wholeNumber,
    )
    .option(
      "--drift <words>",
      "simulated units drift, as: suction -1.5 sd from unit 200 of tub_cavity=P2 with gasket_lot=G2420",
    )
    .option("--records <dir>", "folder the travellers are written to, instead of the station file's")
    .option("--new-records", "begin new records: a real station's first start, and no other")
    .option("--inspector <name>", "who tests, where the station file asks for a name or a PIN")
    .option("--model <name>", "only this model is on the line now; serials of others are refused")
    .addOption(
      new Option("--start <by>", "start with the scan or with the fixture's button")
        .choices(["scan", "button"])
        .default("scan"),
    )
    .option("--draft", "allow limit files nobody has approved; marked on every traveller, never counted")
    .option(
      "--study <plan>",
      "measure a planned study instead of testing production: the station asks for one piece after the other",
    )
    .option("--json", "one JSON event per line")
    .addHelpText(
      "after",
      `
Without a terminal, serials are read from standard input, one a line, as a scanner types them; tracked parts
may follow as name=value, and the number of a retest's reason as retest=2, 200 characters in all. Where people
sign in, a badge on a line of its own does, or --inspector NAME with the PIN in DRUMTIGHT_PIN. With --simulate
and nothing piped in, the first 12 units of the seed are tested.

Lines give the expanded uncertainty after +- (k = 2); "uncertainty" in a --json event is the standard
uncertainty, half of it.

Examples:
  drumtight run --simulate --seed 7 --units 100 --json
  drumtight run --station /etc/drumtight/station.yaml --new-records      (its first start)
  drumtight run --station /etc/drumtight/station.yaml
  drumtight run --station /etc/drumtight/station.yaml --study rr-1.json
  printf 'POD000123 tub_cavity=P2\\n' | drumtight run --station station.yaml`,
    )
    .action(async (options) => {
      try {
        process.exitCode = await run(options);
      } finally {
        // Everything is in order by now: an address that nobody answers at must not keep the program.
        setTimeout(() => process.exit(), LINGER_MS).unref();
      }
    });
}

function times(text: string): number {
  const speed = Number(text);
  if (!(speed >= 1 && speed <= 20)) throw new InvalidArgumentError("Give a number from 1 to 20.");
  return speed;
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
  if (!options.simulate && options.drift !== undefined)
    throw new UsageError("Only simulated units can be made to drift: leave --drift out, or add --simulate.");
  const isInteractive =
    Boolean(process.stdin.isTTY && process.stdout.isTTY) && !options.json && options.units === undefined;
  if (isInteractive) return runScreen(options);
  return options.simulate ? runSimulated(options) : runReal(options, options.station ?? "");
}

async function runSimulated(options: RunOptions): Promise<0 | 1> {
  const { openSimulatedStation } = await import("../wiring.ts");
  const study = await studySetup(options);
  const { runHeadless } = await import("../run-headless.ts");
  const { hasInput, scannedLines } = await import("../scanned-lines.ts");
  const { scansOfSeed, scansOfSerials, scansOfStudy } = await import("../simulated-scans.ts");
  const areScanned = options.units === undefined && (await hasInput(process.stdin, INPUT_WAIT_MS));
  const simulated = await openSimulatedStation({
    seed: options.seed,
    pace: "virtual",
    ...(options.station === undefined ? {} : { stationPath: options.station }),
    allowDrafts: options.draft === true,
    ...(study ? { study } : {}),
    ...(options.records === undefined ? {} : { recordsFolder: options.records }),
    ...(options.model === undefined ? {} : { onlyModel: options.model }),
    ...(options.drift === undefined ? {} : { drift: options.drift }),
  });
  const who = await whoTests(simulated, options.inspector).catch(async (error: unknown) => {
    await simulated.close();
    throw error;
  });
  const isWell = await runHeadless({
    running: simulated,
    recordsFolder: simulated.recordsFolder,
    scans: (stop, refused) =>
      areScanned
        ? scansOfSerials(
            simulated,
            withoutBadges(simulated, refused, scannedLines(process.stdin, stop, Number.POSITIVE_INFINITY)),
          )
        : study
          ? scansOfStudy(simulated, options.units ?? Number.POSITIVE_INFINITY, (name) => {
              if (simulated.file.signIn.kind !== "name") return;
              simulated.station.signIn({ name, role: null, how: "stated" });
            })
          : scansOfSeed(simulated, options.units ?? DEFAULT_UNITS),
    who,
    startsByButton: false,
    asEvents: options.json === true,
    runUntil: simulated.runUntil,
  });
  // Whatever the simulated operator tried, one piece gave no value.
  const isLeftOff = options.units === undefined && !areScanned && simulated.station.study()?.next;
  return isWell && !isLeftOff ? 0 : 1;
}

async function runReal(options: RunOptions, stationPath: string): Promise<0 | 1> {
  const { loadStation, openStation } = await import("../wiring.ts");
  const { runHeadless } = await import("../run-headless.ts");
  const { scannedLines } = await import("../scanned-lines.ts");
  const { RealClock } = await import("../../drivers/real-clock.ts");
  const { requireRecords } = await import("../records-in-place.ts");
  const clock = new RealClock();
  const study = await studySetup(options);
  const loaded = loadStation(stationPath, options.model);
  const recordsFolder = options.records ?? loaded.file.recordsFolder;
  requireRecords(loaded.file, recordsFolder, options.newRecords === true);
  const who = await whoTests({ file: loaded.file, clock }, options.inspector);
  const running = await openStation({
    ...loaded,
    clock,
    recordsFolder,
    allowDrafts: options.draft === true,
    ...(study ? { study } : {}),
  });
  const isWell = await runHeadless({
    running,
    recordsFolder,
    scans: (stop, refused) =>
      withoutBadges(
        { ...running, ...loaded, clock },
        refused,
        scannedLines(process.stdin, stop, options.units ?? Number.POSITIVE_INFINITY),
      ),
    who,
    startsByButton: options.start === "button",
    asEvents: options.json === true,
    runUntil: (happened) => happened,
  });
  return isWell ? 0 : 1;
}

/** @throws UsageError where the plan can't be read */
async function studySetup({ study }: RunOptions): Promise<StudySetup | undefined> {
  if (study === undefined) return undefined;
  const { studySetupOf } = await import("../guided-study/study-setup.ts");
  return studySetupOf(study);
}

interface Manned {
  readonly file: StationFile;
  readonly clock: Clock;
}

/**
 * Who is signed in to begin with: where people sign in, whoever proves it by a PIN, else nobody until a badge is scanned.
 * @throws UsageError when a name is asked for and none was given, or the PIN is wrong
 */
async function whoTests({ file, clock }: Manned, inspector: string | undefined): Promise<SignedIn | null> {
  const { commandWho } = await import("../people/command-who.ts");
  const { UsageError } = await import("../explain.ts");
  if (file.signIn.kind === "people" && inspector === undefined) return null;
  if (file.signIn.kind === "name" && inspector === undefined) {
    throw new UsageError("This station asks who tests: say so with --inspector NAME.");
  }
  return commandWho({
    as: inspector,
    settings: file.signIn,
    least: "inspector",
    askPin: async () => process.env.DRUMTIGHT_PIN ?? "",
    clock,
  });
}

/** Badges among the scanned lines sign in, and are no units. */
async function* withoutBadges(
  manned: Manned & Pick<RunningStation, "station">,
  refused: Parameters<HeadlessRun["scans"]>[1],
  scans: AsyncIterable<Scan>,
): AsyncGenerator<Scan> {
  const { file, clock, station } = manned;
  if (file.signIn.kind !== "people") {
    yield* scans;
    return;
  }
  const { HeadlessPeople } = await import("../headless-people.ts");
  const people = new HeadlessPeople({
    station,
    settings: file.signIn,
    models: () => station.models().map(({ limits }) => limits),
    referenceSerials: (file.referenceCheck?.pieces ?? []).map(({ serial }) => serial),
    clock,
    refused,
  });
  yield* people.unitsOf(scans);
}

async function runScreen(options: RunOptions): Promise<0 | 1> {
  const { showStation } = await import("../screen/show-station.tsx");
  return showStation(options);
}
