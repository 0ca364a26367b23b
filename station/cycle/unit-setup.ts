import { assign, fromCallback, fromPromise, setup, stateIn } from "xstate";
import type { Levels } from "../../drivers/ports.ts";
import { type AirflowFinding, besideTheUnitBefore, isOfMotor } from "./airflow-findings.ts";
import { type FillFinding, fillFinding, isHardlyAny, sourceFinding } from "./fill-findings.ts";
import { median } from "./fill-watch.ts";
import {
  comparisonReason,
  fillSeen,
  heldReason,
  isTrial,
  leakSoFar,
  sourceSeen_Pa,
  valveReason,
  ventSeen,
  ventStuckReason,
} from "./leak-outcomes.ts";
import type { Reason } from "./reason.ts";
import {
  type Ambient,
  type AttemptEvidence,
  airflowPoint,
  airflowStep,
  currentStep,
  type LeakEvidence,
  leakStep,
  type PhaseName,
  type PhaseRecord,
  type Recorded,
  type UnitContext,
  type UnitEvent,
  type UnitEvidence,
  type UnitInput,
  type UnitOutput,
} from "./unit-context.ts";
import { compareOrder, VENT_TRIAL_s } from "./unit-orders.ts";
import { isKnown, outputFault } from "./unit-reasons.ts";
import { pressureBeforeVent_Pa, ventFinding } from "./vent-findings.ts";
import type { Observation } from "./watchers.ts";

/** How long the safe state may take to be seen (pressure near ambient) before the fault says so. */
const SAFE_SEEN_WITHIN_MS = 10_000;
/** The same for pressure and motor together, from the command on, where the program is to end: it has two seconds for everything. */
const SEEN_BEFORE_END_S = 1.2;
/** A phase that readings end is the gauges' business; this much later than asked means that they have stopped. */
const READINGS_GRACE_MS = 2_000;
/** A body that can't be filled empties fast: half a second shows how fast. */
export const GROSS_ESTIMATE_S = 0.5;

function unwired(name: string): never {
  throw new Error(`The unit machine's actor "${name}" is not wired.`);
}

/** What the unit machine is made of: its actors, times, guards and actions; the states are in the files beside. */
export const unitSetup = setup({
  types: {
    input: {} as UnitInput,
    context: {} as UnitContext,
    events: {} as UnitEvent,
    output: {} as UnitOutput,
  },
  actors: {
    /** Makes the open attempt durable before anything moves. */
    begin: fromPromise<void, AttemptEvidence>(async () => unwired("begin")),
    readAmbient: fromPromise<Ambient>(async () => unwired("readAmbient")),
    /** Resolves when the I/O block has confirmed the levels. */
    command: fromPromise<void, Levels>(async () => unwired("command")),
    /** Sends OUTCOME once, or FAULT when an instrument fails or its readings can't be trusted. */
    observe: fromCallback<UnitEvent, Observation>(() => unwired("observe")),
    /** Judges and writes the traveller; resolves only when it is on disk. */
    record: fromPromise<Recorded, AttemptEvidence>(async () => unwired("record")),
  },
  delays: {
    restLongest: READINGS_GRACE_MS,
    fillLongest: ({ context }) => leakStep(context).fillLongest_s * 1000 + READINGS_GRACE_MS,
    settle: ({ context }) => leakStep(context).settle_s * 1000 + READINGS_GRACE_MS,
    measureLongest: ({ context }) => leakStep(context).measureLongest_s * 1000 + READINGS_GRACE_MS,
    grossLongest: GROSS_ESTIMATE_S * 1000 + READINGS_GRACE_MS,
    trialLongest: 2 * VENT_TRIAL_s * 1000 + READINGS_GRACE_MS,
    compareLongest: ({ context }) => compareOrder(context).after_s * 1000 + READINGS_GRACE_MS,
    ventLongest: ({ context }) => leakStep(context).ventLongest_s * 1000,
    runUpLongest: ({ context }) => airflowStep(context).runUpLongest_s * 1000 + READINGS_GRACE_MS,
    holdLongest: ({ context }) => airflowPoint(context).holdLongest_s * 1000 + READINGS_GRACE_MS,
    coastLongest: ({ context }) => airflowStep(context).coastLongest_s * 1000,
    safeSeenWithin: ({ context }) => {
      if (!context.evidence.voids.some(isProgramStop)) return SAFE_SEEN_WITHIN_MS;
      const waited_s = context.clock.now_s() - (context.ventFrom?.start_s ?? 0);
      return Math.max(0, SEEN_BEFORE_END_S - waited_s) * 1000;
    },
  },
  guards: {
    alreadyVoid: ({ context }) => context.evidence.voids.length > 0,
    noStepLeft: ({ context }) => context.stepIndex >= context.steps.length,
    isLeakStep: ({ context }) => context.steps[context.stepIndex]?.kind === "leak",
    sourceReady: ({ context, event }) => {
      const source_Pa = sourceSeen_Pa(context, event);
      return source_Pa !== null && sourceFinding(source_Pa, leakStep(context)) === null;
    },
    valvesShut: ({ context, event }) => isTrial(event) && valveReason(context, event) === null,
    wasCutOff: ({ context, event }) => heldReason(context, event) !== null,
    bodyIsEmpty: ({ context, event }) => {
      if (event.type !== "OUTCOME" || event.outcome.kind !== "curve") return false;
      const last_Pa = median(event.outcome.curve.pressure_mPa.slice(-5)) / 1000;
      return isHardlyAny(last_Pa, leakStep(context).testPressure_Pa);
    },
    provesStation: ({ context }) => context.attempt.reference !== null,
    ventStandsOpen: ({ context, event }) => ventStuckReason(context, event) !== null,
    gaugesDisagree: ({ context, event }) => comparisonReason(context, event) !== null,
    isFilled: ({ context, event }) => {
      const seen = fillSeen(context, event);
      return seen !== null && fillFinding(seen, leakStep(context)) === null;
    },
    unitCannotBeFilled: ({ context, event }) => {
      const seen = fillSeen(context, event);
      return seen !== null && fillFinding(seen, leakStep(context))?.against === "unit";
    },
    hoseWasVented: ({ context, event }) => {
      const seen = ventSeen(context, event);
      return seen !== null && ventFinding(seen, leakStep(context)) !== null;
    },
    isUp: ({ event }) => event.type === "OUTCOME" && event.outcome.kind === "run_up",
    lastPointKnown: ({ context, event }) =>
      isPointKnown(event) && context.pointIndex + 1 >= airflowStep(context).points.length,
    pointKnown: ({ event }) => isPointKnown(event),
    unitFailsAirflow: ({ context, event }) => airflowFinding(context, event)?.against === "unit",
    hasStopped: stateIn({ testing: { airflow: { coast: "relieving" } } }),
    /** A motor that was switched off for what it did is not switched on again, whatever steps are left. */
    motorFailed: ({ context }) => context.evidence.fails.some(isOfMotor),
    programStops: ({ event }) => event.type === "ABORT" && isProgramStop(event.reason),
    programStopped: ({ context }) => context.evidence.voids.some(isProgramStop),
    hasMotor: ({ context }) => context.steps.some((step) => step.kind === "airflow"),
    stopsHere: ({ context }) => {
      const step = context.steps[context.stepIndex];
      return (
        step?.kind === "leak" &&
        step.ifFailed === "stop" &&
        !context.stepConforms(context.attempt, context.evidence, step)
      );
    },
  },
  actions: {
    startPhase: assign(({ context }, params: { name: PhaseName }) => ({
      phase: { name: params.name, start_s: context.clock.now_s() },
    })),
    endPhase: assign(({ context }) => {
      if (!context.phase) return {};
      const point = context.phase.name === "hold" ? { point: airflowPoint(context).name } : {};
      const record: PhaseRecord = {
        step: currentStep(context).name,
        phase: context.phase.name,
        ...point,
        start_s: context.phase.start_s - context.evidence.start_s,
        end_s: context.clock.now_s() - context.evidence.start_s,
      };
      return { phase: null, evidence: { ...context.evidence, phases: [...context.evidence.phases, record] } };
    }),
    keepSourceShut: assign(({ event }) =>
      event.type === "OUTCOME" && event.outcome.kind === "valve_trial"
        ? { sourceShut: event.outcome.trial }
        : {},
    ),
    keepSourceAtRest: assign(({ context, event }) => ({ sourceAtRest_Pa: sourceSeen_Pa(context, event) })),
    addValveFinding: assign(({ context, event }) => voidIf(context, valveReason(context, event))),
    addHeldFinding: assign(({ context, event }) => ofFixture(context, heldReason(context, event))),
    keepVentShut: assign(({ event }) =>
      event.type === "OUTCOME" && event.outcome.kind === "pressure"
        ? { ventShut_Pa: event.outcome.pressure_Pa }
        : {},
    ),
    addVentStuck: assign(({ context, event }) => ofFixture(context, ventStuckReason(context, event))),
    addComparison: assign(({ context, event }) => voidIf(context, comparisonReason(context, event))),
    keepFill: assign(({ context, event }) => {
      const fill = fillSeen(context, event);
      return fill ? { evidence: withLeak(context, { fill }) } : {};
    }),
    keepCurve: assign(({ context, event }, params: { as: "settle" | "measure" | "gross" }) => {
      if (event.type !== "OUTCOME" || event.outcome.kind !== "curve") return {};
      const { curve, look } = event.outcome;
      return { evidence: withLeak(context, { [params.as]: curve, ...(look ? { look } : {}) }) };
    }),
    startVent: assign(({ context }) => {
      // The trial of the vent has let out what there was.
      const isVented = context.ventShut_Pa !== null;
      const pressure_Pa = isVented ? 0 : pressureBeforeVent_Pa(leakSoFar(context));
      return { ventFrom: { start_s: context.clock.now_s(), pressure_Pa } };
    }),
    startSafing: assign(({ context }) => ({
      ventFrom: { start_s: context.clock.now_s(), pressure_Pa: context.newestPressure_Pa() ?? 0 },
    })),
    keepVent: assign(({ context, event }) => {
      const vent = ventSeen(context, event);
      return vent ? { evidence: withLeak(context, { vent }) } : {};
    }),
    keepRunUp: assign(({ event }) =>
      event.type === "OUTCOME" && event.outcome.kind === "run_up" ? { runUp: event.outcome.readings } : {},
    ),
    keepPoint: assign(({ context, event }) => {
      if (event.type !== "OUTCOME" || event.outcome.kind !== "steady") return {};
      const point = {
        step: currentStep(context).name,
        point: airflowPoint(context).name,
        samples: event.outcome.samples,
      };
      return { evidence: { ...context.evidence, airflow: [...context.evidence.airflow, point] } };
    }),
    addVoid: assign(({ context }, params: Reason) => voidFor(context, params)),
    /** What the fill, or the source before it, was found to be; after keepFill, which it is judged by. */
    addFinding: assign(({ context, event }) => {
      const finding = findingOf(context, event);
      if (!finding) return {};
      return finding.against === "unit" ? failFor(context, finding.reason) : voidFor(context, finding.reason);
    }),
    addAirflowFinding: assign(({ context, event }) => {
      const finding = airflowFinding(context, event);
      if (!finding) return {};
      return finding.against === "unit" ? failFor(context, finding.reason) : voidFor(context, finding.reason);
    }),
    addVentFinding: assign(({ context, event }) => {
      const seen = ventSeen(context, event);
      const reason = seen && ventFinding(seen, leakStep(context));
      return reason ? voidFor(context, reason) : {};
    }),
    /** A test broken off with pressure on the body: whoever opens the guard next must know if it is still there. */
    addSafingFinding: assign(({ context, event }) => {
      const { steps, stepIndex, evidence } = context;
      const seen = ventSeen(context, event);
      const step = steps[stepIndex];
      if (!seen || step?.kind !== "leak" || evidence.voids.some(isBlocked)) return {};
      const reason = ventFinding(seen, step);
      return reason ? voidFor(context, reason) : {};
    }),
    addEventReason: assign(({ context, event }) => {
      return event.type === "FAULT" || event.type === "ABORT" ? voidFor(context, event.reason) : {};
    }),
    nextStep: assign(({ context }) => ({
      stepIndex: context.stepIndex + 1,
      pointIndex: 0,
      runUp: [],
      sourceShut: null,
      ventShut_Pa: null,
    })),
    nextPoint: assign(({ context }) => ({ pointIndex: context.pointIndex + 1, runUp: [] })),
  },
});

function isPointKnown(event: UnitEvent): boolean {
  return event.type === "OUTCOME" && event.outcome.kind === "steady";
}

function airflowFinding({ attempt, motorStoodStill }: UnitContext, event: UnitEvent): AirflowFinding | null {
  if (event.type !== "OUTCOME" || event.outcome.kind !== "finding") return null;
  return besideTheUnitBefore(event.outcome.finding, attempt.serial, motorStoodStill());
}

function isProgramStop({ code }: Reason): boolean {
  return code === "PROGRAM_STOPPED";
}

function isBlocked({ code }: Reason): boolean {
  return code === "BLOCKED_FIXTURE";
}

function findingOf(context: UnitContext, event: UnitEvent): FillFinding | null {
  const source_Pa = sourceSeen_Pa(context, event);
  if (source_Pa !== null) return sourceFinding(source_Pa, leakStep(context));
  const seen = fillSeen(context, event);
  return seen && fillFinding(seen, leakStep(context));
}

function voidFor({ evidence }: UnitContext, reason: Reason) {
  return isKnown(reason, evidence.voids)
    ? {}
    : { evidence: { ...evidence, voids: [...evidence.voids, reason] } };
}

function voidIf(context: UnitContext, reason: Reason | null) {
  return reason ? voidFor(context, reason) : {};
}

/** What the body lost, or never took, went through the fixture: nothing of it counts. */
function ofFixture(context: UnitContext, reason: Reason | null) {
  if (!reason) return {};
  const evidence = withLeak(context, { isOfFixture: true });
  return { evidence: { ...evidence, voids: [...evidence.voids, reason] } };
}

function failFor({ evidence }: UnitContext, reason: Reason) {
  return { evidence: { ...evidence, fails: [...evidence.fails, reason] } };
}

function withLeak(context: UnitContext, found: Partial<LeakEvidence>): UnitEvidence {
  const { evidence } = context;
  const before = leakSoFar(context);
  const others = evidence.leaks.filter((leak) => leak !== before);
  return { ...evidence, leaks: [...others, { ...before, ...found }] };
}

/**
 * Commands levels while a state lasts; an I/O block that does not confirm them ends the test.
 * @param confirmed state to go to when it has
 */
export function commandInvoke(levels: (context: UnitContext) => Levels, confirmed?: string) {
  return {
    src: "command" as const,
    input: ({ context }: { context: UnitContext }) => levels(context),
    ...(confirmed === undefined ? {} : { onDone: confirmed }),
    onError: {
      target: "#unit.safing",
      actions: {
        type: "addVoid" as const,
        params: ({ context, event }: { context: UnitContext; event: { error: unknown } }) =>
          outputFault(event.error, context.evidence.voids),
      },
    },
  };
}

/** Watches for what a state waits for. */
export function observeInvoke(order: (context: UnitContext) => Observation) {
  return { src: "observe" as const, input: ({ context }: { context: UnitContext }) => order(context) };
}
