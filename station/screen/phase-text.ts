import type { Step } from "../../limits/model.ts";
import type { UnitProgress } from "../cycle/unit-progress.ts";

const PHASES: Readonly<Record<UnitProgress["phase"], string>> = {
  opening: "opening the record",
  ambient: "reading the room",
  rest: "source and valves",
  fill: "fill",
  settle: "settle",
  measure: "measure",
  gross: "gross leak",
  trial: "trying the vent",
  compare: "comparing the gauges",
  vent: "vent",
  run_up: "run-up",
  hold: "hold",
  coast: "coast",
  safing: "making safe",
  recording: "recording",
};

/** @example phaseText(progress) // "airflow: hold, working" */
export function phaseText({ phase, step, point }: UnitProgress): string {
  const name = PHASES[phase];
  if (!step) return name;
  return `${step.name}: ${name}${point ? `, ${point.name}` : ""}`;
}

/** One word of the list of phases. */
export interface PhaseWord {
  readonly text: string;
  readonly isNow: boolean;
}

/**
 * The whole test in one row, the running phase in brackets.
 * @returns its words, to be divided by blanks; none where the row would be longer than the width
 */
export function phaseList(
  steps: readonly Step[],
  progress: UnitProgress,
  width: number,
): readonly PhaseWord[] {
  const words = steps.flatMap((step): PhaseWord[] => [
    { text: `${step.name}:`, isNow: false },
    ...phasesOf(step).map(({ text, is }) => {
      const isNow = progress.step?.name === step.name && is(progress);
      return { text: isNow ? `[${text}]` : text, isNow };
    }),
  ]);
  const columns = words.reduce((sum, { text }) => sum + text.length + 1, -1);
  return columns <= width ? words : [];
}

interface ListedPhase {
  readonly text: string;
  readonly is: (progress: UnitProgress) => boolean;
}

function phasesOf(step: Step): readonly ListedPhase[] {
  const plain = (phase: UnitProgress["phase"], ...also: readonly UnitProgress["phase"][]): ListedPhase => ({
    text: PHASES[phase],
    is: (progress) => progress.phase === phase || also.includes(progress.phase),
  });
  if (step.kind === "leak") {
    return [
      plain("fill", "rest"),
      plain("settle"),
      plain("measure", "gross", "trial", "compare"),
      plain("vent"),
    ];
  }
  return [
    plain("run_up"),
    ...step.points.map(
      ({ name }): ListedPhase => ({
        text: name,
        is: ({ phase, point }) => phase === "hold" && point?.name === name,
      }),
    ),
    plain("coast"),
  ];
}
