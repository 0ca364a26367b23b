import type { Clock } from "../../drivers/ports.ts";
import type { StationController } from "../controller.ts";
import type { PreparedAttempt } from "../cycle/attempt.ts";
import type { ModelInForce } from "../cycle/refusals.ts";
import { stepsOf } from "../cycle/unit-context.ts";
import type { UnitProgress } from "../cycle/unit-progress.ts";
import type { InstrumentConversation } from "../fixture.ts";
import type { Traveller } from "../records/traveller.ts";
import type { StationFile } from "../station-file.ts";
import { ReferenceRound } from "./reference-round.ts";
import type {
  ConversationOnScreen,
  NextBody,
  Observed,
  ReferenceOnScreen,
  ScreenState,
} from "./screen-state.ts";
import { isLearned, type TimedPhase, type TypicalPhases, timeLeft_s, typicalPhases } from "./time-left.ts";
import { mainChannel, TraceRecorder } from "./trace-samples.ts";

/** Channels worth showing while a test runs. */
const SHOWN_CHANNELS = ["leak_pressure", "source_pressure", "suction", "flow", "power"] as const;
/** From as many units it is learned how long phases take. */
const REMEMBERED_UNITS = 20;
const NOTHING_LEARNED: TypicalPhases = new Map();

export interface ObserverParts {
  readonly station: StationController;
  readonly clock: Clock;
  readonly file: Pick<StationFile, "referenceCheck">;
  readonly models: () => readonly ModelInForce[];
  /** The body a simulated line has ready. */
  readonly next: () => NextBody | null;
}

/** Looks up what the screen shows and nobody tells: readings, counts, times. */
export class Observer {
  readonly #parts: ObserverParts;
  readonly #trace = new TraceRecorder();
  readonly #round = new ReferenceRound();
  readonly #phases = new Map<string, readonly (readonly TimedPhase[])[]>();
  readonly #typical = new Map<string, TypicalPhases>();
  #running: PreparedAttempt | null = null;

  constructor(parts: ObserverParts) {
    this.#parts = parts;
  }

  started(attempt: PreparedAttempt): void {
    this.#running = attempt;
  }

  /** Learns how long the phases of such a body take. */
  finished(attempt: PreparedAttempt, { phases, verdict }: Pick<Traveller, "phases" | "verdict">): void {
    this.#running = null;
    if (verdict === "void") return;
    const key = bodyOf(attempt);
    const known = [phases, ...(this.#phases.get(key) ?? [])].slice(0, REMEMBERED_UNITS);
    this.#phases.set(key, known);
    this.#typical.set(key, typicalPhases(known));
  }

  look({ overlay, faultyInstruments }: Pick<ScreenState, "overlay" | "faultyInstruments">): Observed {
    const { station, clock, next } = this.#parts;
    const progress = station.progress();
    const readings: Record<string, number> = {};
    for (const channel of progress ? SHOWN_CHANNELS : []) {
      const value = station.newest(channel);
      if (value !== null) readings[channel] = value;
    }
    const channel = progress && mainChannel(progress);
    const study = station.study();
    return {
      machine: station.state(),
      now_ms: clock.wall_ms(),
      progress,
      readings,
      trace: this.#trace.look(progress, channel ? readings[channel] : undefined, clock.now_s()),
      ...this.#timeLeft(progress),
      reference: this.#reference(),
      ...(study ? { study } : {}),
      counts: station.dayCount(),
      earlyWarnings: station.earlyWarnings().map(({ sentence }) => sentence),
      areOutputsSafe: station.areOutputsSafe(),
      conversations:
        overlay === "conversation" ? ofFaultyFirst(station.conversations(), faultyInstruments) : [],
      next: next(),
    };
  }

  #timeLeft(progress: UnitProgress | null): Pick<Observed, "timeLeft_s" | "isTimeLeftLearned"> {
    const running = this.#running;
    if (!progress || !running) return { timeLeft_s: null, isTimeLeftLearned: false };
    const steps = stepsOf(running);
    const typical = this.#typical.get(bodyOf(running)) ?? NOTHING_LEARNED;
    return {
      timeLeft_s: timeLeft_s({ steps }, progress, typical),
      isTimeLeftLearned: isLearned({ steps }, typical),
    };
  }

  #reference(): ReferenceOnScreen {
    const { station, file } = this.#parts;
    const models = this.#parts.models();
    if (!file.referenceCheck) return { kind: "off" };
    const onLine = new Set(models.map(({ limits }) => limits.model));
    const pieces = file.referenceCheck.pieces.filter(({ model }) => onLine.has(model));
    const warnings = pieces.flatMap(({ serial }) => station.referenceTrend(serial)?.warning ?? []);
    const due = station.dueReferences();
    const round = this.#round.look(due.map(({ serial }) => serial));
    if (due.length > 0) {
      const shown = due.map(({ serial, kind, model, why }) => ({ serial, kind, model, why }));
      return { kind: "due", pieces: shown, ...round, warnings };
    }
    const states = models.map(({ limits }) => station.referenceState(limits.model));
    const checked_ms = states.flatMap(({ inForce }) => inForce?.at_ms ?? []);
    if (checked_ms.length === 0) return { kind: "off" };
    const unitsLeft = states.flatMap((state) => state.unitsLeft ?? []);
    return {
      kind: "in_force",
      at_ms: Math.min(...checked_ms),
      until_ms: Math.min(...states.flatMap(({ until_ms }) => until_ms ?? [])),
      unitsLeft: unitsLeft.length === 0 ? null : Math.min(...unitsLeft),
      warnings,
    };
  }
}

/**
 * A gauge that streams again has soon said twenty lines since its fault. Of one that stopped the station those before it
 * are shown, where there are any.
 */
function ofFaultyFirst(
  conversations: readonly InstrumentConversation[],
  faulty: readonly string[],
): readonly ConversationOnScreen[] {
  const shown = conversations.map(({ instrument, lines, linesBeforeFault }) => {
    const isFaulty = faulty.includes(instrument) && linesBeforeFault.length > 0;
    return { instrument, isFaulty, lines: isFaulty ? linesBeforeFault : lines };
  });
  return [...shown.filter(({ isFaulty }) => isFaulty), ...shown.filter(({ isFaulty }) => !isFaulty)];
}

/** Units of a model go the same way; each kind of reference piece goes its own. */
function bodyOf({ limits, reference }: PreparedAttempt): string {
  return `${limits.model} ${reference?.kind ?? ""}`;
}
