import type { Desk } from "./desk.ts";
import type { Painter } from "./painter.ts";
import type { Observed, ScreenState } from "./screen-state.ts";

/** What the screen needs of a desk. */
export type ShownDesk = Pick<Desk, "state" | "watch" | "key" | "isEscUrgent">;

const FRAMES_PER_SECOND = 10;
const LEAST_GAP_ms = 1000 / FRAMES_PER_SECOND;

/**
 * A desk that changes only when something besides the moving rows does: those are painted straight away, ten times a
 * second, and a whole frame laid out only for the rest.
 */
export class CalmDesk implements ShownDesk {
  readonly #desk: ShownDesk;
  readonly #painter: Pick<Painter, "paintLive">;
  #state: ScreenState;
  #painted_ms = Number.NEGATIVE_INFINITY;
  #timer: NodeJS.Timeout | undefined;

  constructor(desk: ShownDesk, painter: Pick<Painter, "paintLive">) {
    this.#desk = desk;
    this.#painter = painter;
    this.#state = desk.state;
  }

  get state(): ScreenState {
    return this.#state;
  }

  get isEscUrgent(): boolean {
    return this.#desk.isEscUrgent;
  }

  key: ShownDesk["key"] = (key) => this.#desk.key(key);

  watch(changed: () => void): () => void {
    const show = () => {
      this.#timer = undefined;
      this.#painted_ms = performance.now();
      const { state } = this.#desk;
      if (!looksAlike(state, this.#state)) {
        this.#state = state;
        changed();
      }
      this.#painter.paintLive();
    };
    const showSoon = () => {
      if (this.#timer !== undefined) return;
      const wait_ms = this.#painted_ms + LEAST_GAP_ms - performance.now();
      if (wait_ms <= 0) show();
      else this.#timer = setTimeout(show, wait_ms);
    };
    const stop = this.#desk.watch(showSoon);
    // What changed while nobody watched.
    if (!looksAlike(this.#desk.state, this.#state)) showSoon();
    return () => {
      clearTimeout(this.#timer);
      this.#timer = undefined;
      stop();
    };
  }
}

/** @returns whether a frame of the one shows the same as one of the other, but for the rows that move */
export function looksAlike(a: ScreenState, b: ScreenState): boolean {
  const keys = Object.keys(a) as (keyof ScreenState)[];
  return (
    keys.every((key) => key === "observed" || Object.is(a[key], b[key])) &&
    stillPart(a) === stillPart(b) &&
    phaseOf(a.observed) === phaseOf(b.observed)
  );
}

const MINUTE_ms = 60_000;
const SECOND_ms = 1000;

/** As text, since every look makes these anew. */
function stillPart({ observed, signIn }: ScreenState): string {
  const { machine, now_ms, reference, counts, conversations, next, progress } = observed;
  const every_ms = signIn.lockedUntil_ms === null ? MINUTE_ms : SECOND_ms;
  const { causes, suspected, ...shown } = counts;
  return JSON.stringify([
    machine,
    Math.floor(now_ms / every_ms),
    reference,
    shown,
    conversations,
    next,
    progress === null,
  ]);
}

function phaseOf({ progress }: Observed): string {
  return progress ? `${progress.phase} ${progress.step?.name} ${progress.point?.name}` : "";
}
