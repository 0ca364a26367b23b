import type { UnitProgress } from "../cycle/unit-progress.ts";
import type { TraceSamples } from "./screen-state.ts";

type Sample = TraceSamples["samples"][number];

/** More than a terminal has dots for. */
const MOST_SAMPLES = 600;

/** The running phase's curve, of what is newest at each look; where it gets too long every second sample goes. */
export class TraceRecorder {
  #phase = "";
  #samples: readonly Sample[] = [];
  /** Only every so manieth look is kept. */
  #keepEvery = 1;
  #looks = 0;

  /**
   * @param value of the phase's main channel, SI; undefined where there is no fresh one
   * @param now_s of the station's clock
   */
  look(progress: UnitProgress | null, value: number | undefined, now_s: number): TraceSamples | null {
    const channel = progress && mainChannel(progress);
    if (!progress || !channel || progress.elapsed_s === null) {
      this.#begin("");
      return null;
    }
    const phase = `${progress.step?.name} ${progress.phase} ${progress.point?.name ?? ""}`;
    if (phase !== this.#phase) this.#begin(phase);
    if (value !== undefined) this.#keep({ t_s: now_s, value });
    return { channel, samples: this.#samples, phaseStart_s: now_s - progress.elapsed_s };
  }

  #begin(phase: string): void {
    this.#phase = phase;
    this.#samples = [];
    this.#keepEvery = 1;
    this.#looks = 0;
  }

  #keep(sample: Sample): void {
    if (this.#looks++ % this.#keepEvery !== 0) return;
    this.#samples = [...this.#samples, sample];
    if (this.#samples.length <= MOST_SAMPLES) return;
    this.#samples = this.#samples.filter((_, i) => i % 2 === 0);
    this.#keepEvery *= 2;
  }
}

/** @returns the channel that tells most of this phase; null where nothing is measured */
export function mainChannel({
  step,
  phase,
}: Pick<UnitProgress, "step" | "phase">): TraceSamples["channel"] | null {
  if (step?.kind === "leak") return phase === "rest" ? "source_pressure" : "leak_pressure";
  if (step?.kind === "airflow") return phase === "coast" ? "power" : "suction";
  return null;
}
