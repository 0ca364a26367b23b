import type { StationFile } from "../station-file.ts";
import type { RunningStation, SimulatedStation } from "../wiring.ts";
import { drawFirstFrame, type FirstFrame } from "./first-frame.ts";
import { openingRemarks } from "./opening-remarks.ts";

export interface ShowOptions {
  /** Station file; the demo plant's where there is none. */
  readonly station?: string;
  readonly simulate?: true;
  /** Of simulated time. */
  readonly speed: number;
  readonly seed: number;
  /** Of the simulated units, as somebody typed it. */
  readonly drift?: string;
  readonly records?: string;
  /** A real station may begin new records. */
  readonly newRecords?: true;
  readonly inspector?: string;
  readonly model?: string;
  readonly draft?: true;
  /** Plan of a study to be measured. */
  readonly study?: string;
}

interface Opened {
  readonly running: RunningStation;
  readonly file: StationFile;
  readonly recordsFolder: string;
  readonly simulated: SimulatedStation | null;
}

/**
 * Opens the station, shows it on this terminal until the inspector leaves, and says what was done. The cautions stand on
 * the terminal before anything else is loaded; what is typed meanwhile is not lost.
 * @returns exit code
 * @throws what opening the station throws, with the terminal as it was
 */
export async function showStation(options: ShowOptions): Promise<0> {
  const first = drawFirstFrame();
  try {
    return await showOn(first, options);
  } catch (error) {
    first.close();
    throw error;
  }
}

async function showOn(first: FirstFrame, options: ShowOptions): Promise<0> {
  // React looks at this once, when it is loaded; its development build takes half as much time again.
  process.env.NODE_ENV ??= "production";
  // Ink draws nothing before the end where these are set; here somebody stands before a terminal.
  for (const name of ["CI", "CONTINUOUS_INTEGRATION"]) delete process.env[name];
  const [opened, { Desk }, { renderScreen }, { LineReporter, Tally }, { RealClock }, signIn] =
    await Promise.all([
      open(options),
      import("./desk.ts"),
      import("./render-screen.tsx"),
      import("../report.ts"),
      import("../../drivers/real-clock.ts"),
      import("../people/sign-in.ts"),
    ]);
  const { running, file, recordsFolder, simulated } = opened;
  const { stopOnSignal } = await import("../stop-on-signal.ts");
  const tally = new Tally();
  const clock = simulated?.clock ?? new RealClock();
  const line = simulated && (await simulatedLine(simulated));
  const remarks = openingRemarks(running);
  const desk = new Desk({
    station: running.station,
    clock,
    frames: new RealClock(),
    file,
    models: running.station.models(),
    allowDrafts: options.draft === true,
    tally,
    ...(file.signIn.kind === "people" ? { signIn: new signIn.SignIn({ settings: file.signIn, clock }) } : {}),
    ...(line ? { line } : {}),
    ...(options.inspector === undefined ? {} : { inspector: options.inspector }),
    ...(remarks.length === 0 ? {} : { remark: remarks.join(" ") }),
  });
  const stopDrawing = renderScreen(desk, first);
  const plainPastes = markPastes();
  // After Ink's: its signal listener ends the program if it finds itself alone, and ours removes itself when called.
  stopOnSignal(() => desk.leave());
  const stopListening = leaveWithTerminal(() => desk.leave());
  // The terminal is given back on the way; the I/O block's watchdog then drops the outputs.
  void desk.leftAtOnce.then(() => process.exit(130));
  try {
    await desk.left;
  } finally {
    desk.close();
    plainPastes();
    stopDrawing();
    stopListening();
    await running.close();
  }
  new LineReporter((text) => process.stdout.write(text)).summary(tally, recordsFolder);
  return 0;
}

async function open(options: ShowOptions): Promise<Opened> {
  const { loadStation, openSimulatedStation, openStation } = await import("../wiring.ts");
  const allowDrafts = options.draft === true;
  const { studySetupOf } = await import("../guided-study/study-setup.ts");
  const study = options.study === undefined ? {} : { study: studySetupOf(options.study) };
  if (options.simulate || options.station === undefined) {
    const simulated = await openSimulatedStation({
      seed: options.seed,
      pace: "real",
      speed: options.speed,
      ...(options.station === undefined ? {} : { stationPath: options.station }),
      allowDrafts,
      ...study,
      ...(options.records === undefined ? {} : { recordsFolder: options.records }),
      ...(options.model === undefined ? {} : { onlyModel: options.model }),
      ...(options.drift === undefined ? {} : { drift: options.drift }),
    });
    const { file, recordsFolder } = simulated;
    return { running: simulated, file, recordsFolder, simulated };
  }
  const { RealClock } = await import("../../drivers/real-clock.ts");
  const loaded = loadStation(options.station, options.model);
  const recordsFolder = options.records ?? loaded.file.recordsFolder;
  const { requireRecords } = await import("../records-in-place.ts");
  requireRecords(loaded.file, recordsFolder, options.newRecords === true);
  const running = await openStation({
    ...loaded,
    clock: new RealClock(),
    recordsFolder,
    allowDrafts,
    ...study,
  });
  return { running, file: loaded.file, recordsFolder, simulated: null };
}

async function simulatedLine(simulated: SimulatedStation) {
  const { SimulatedLine } = await import("./simulated-line.ts");
  return new SimulatedLine(simulated);
}

// ECMA-48 private mode 2004, as xterm's control sequences document it: the terminal says where a paste begins and ends.
const PASTES_MARKED = "\x1b[?2004h";
const PASTES_PLAIN = "\x1b[?2004l";

/** Has pastes marked, so that nothing in one counts as a key. @returns stop */
function markPastes(): () => void {
  const stop = () => {
    process.off("exit", stop);
    process.stdout.write(PASTES_PLAIN);
  };
  process.on("exit", stop);
  process.stdout.write(PASTES_MARKED);
  return stop;
}

/**
 * A terminal that goes away ends the station in good order: the test is aborted, made safe and recorded.
 * @returns stop
 */
function leaveWithTerminal(leave: () => void): () => void {
  const { stdin } = process;
  stdin.on("error", leave);
  stdin.on("end", leave);
  return () => {
    stdin.off("end", leave);
    // The error listener stays: a terminal that is gone must not end the program while it makes the fixture safe.
    stdin.pause();
    stdin.unref();
  };
}
