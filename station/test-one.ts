import type { StationListener } from "./announcements.ts";
import type { StationController } from "./controller.ts";
import type { Reason } from "./cycle/reason.ts";
import type { Scan } from "./cycle/scan.ts";
import { refuseIncomplete } from "./cycle/station-reasons.ts";
import type { FinishedAttempt } from "./recording.ts";

export type Tested =
  | { readonly kind: "finished"; readonly finished: FinishedAttempt }
  | { readonly kind: "refused"; readonly reasons: readonly Reason[] }
  /** The attempt has no verdict yet: it stays open on disk and becomes void when the station recovers. */
  | { readonly kind: "faulted"; readonly reasons: readonly Reason[] }
  /** Nothing was scanned: whoever is signed in may not acknowledge what the station is stopped for. */
  | { readonly kind: "stopped"; readonly reasons: readonly Reason[] };

/** States that end by themselves. */
const UNDER_WAY: ReadonlySet<string> = new Set(["identifying", "checking", "testing", "recovering"]);

/** An inspector's moves, one unit at a time, for everything that has no screen. */
export class OneByOne {
  readonly #station: StationController;
  readonly #startsByButton: boolean;
  readonly #stop: AbortSignal | undefined;
  #expecting: Partial<StationListener> = {};

  /**
   * @param startsByButton wait for the fixture's start button instead of starting at once
   * @param stop nothing new is scanned once this is aborted
   */
  constructor(
    station: StationController,
    { startsByButton = false, stop }: { startsByButton?: boolean; stop?: AbortSignal } = {},
  ) {
    this.#station = station;
    this.#startsByButton = startsByButton;
    this.#stop = stop;
    station.listen({
      armed: (attempt) => this.#expecting.armed?.(attempt),
      refused: (serial, reasons) => this.#expecting.refused?.(serial, reasons),
      finished: (finished) => this.#expecting.finished?.(finished),
      faulted: (reasons) => this.#expecting.faulted?.(reasons),
      recovered: () => this.#expecting.recovered?.(),
    });
  }

  /**
   * Scans, starts and waits. A station stopped by a fault is acknowledged first: the next scan is somebody's answer
   * to it. If that does not help, the station refuses the scan itself.
   */
  async test(scan: Scan): Promise<Tested> {
    await this.#underWayEnds();
    if (this.#station.state() === "faulted") {
      const notAllowed = await this.#recover();
      if (notAllowed) return { kind: "stopped", reasons: notAllowed };
    }
    if (this.#stop?.aborted) return { kind: "refused", reasons: [] };
    return this.#await<Tested>(
      (done) => ({
        armed: (attempt) => {
          // What is missing would be missing at the button, too: the station says so now.
          if (!this.#startsByButton || refuseIncomplete(attempt).length > 0) this.#station.start();
        },
        refused: (_, reasons) => done({ kind: "refused", reasons }),
        finished: (finished) => done({ kind: "finished", finished }),
        faulted: (reasons) => done({ kind: "faulted", reasons }),
      }),
      () => this.#station.scan(scan),
    );
  }

  /** A unit that was refused at its start is still armed, and somebody may have pressed the button since. */
  async #underWayEnds(): Promise<void> {
    while (UNDER_WAY.has(this.#station.state())) {
      await this.#await<void>(
        (done) => ({
          refused: () => done(),
          finished: () => done(),
          faulted: () => done(),
          recovered: () => done(),
        }),
        () => undefined,
      );
    }
  }

  /** @returns why it may not be acknowledged; null where it was, whether or not that helped, and where nothing more is wanted */
  #recover(): Promise<readonly Reason[] | null> {
    const told = this.#await<readonly Reason[] | null>(
      (done) => ({
        recovered: () => done(null),
        faulted: () => done(null),
        refused: (_, reasons) => done(reasons),
      }),
      () => this.#station.acknowledge(),
    );
    return this.#unlessStopped(told);
  }

  /** @returns null where somebody stops before it comes; a shift may see thousands of waits, so each takes its listener off */
  #unlessStopped<T>(comes: Promise<T>): Promise<T | null> {
    const stop = this.#stop;
    if (!stop) return comes;
    return new Promise((resolve) => {
      const end = (value: T | null) => {
        stop.removeEventListener("abort", stopped);
        resolve(value);
      };
      const stopped = () => end(null);
      stop.addEventListener("abort", stopped);
      void comes.then(end);
    });
  }

  #await<T>(expecting: (done: (value: T) => void) => Partial<StationListener>, move: () => void): Promise<T> {
    return new Promise((resolve) => {
      this.#expecting = expecting((value) => {
        this.#expecting = {};
        resolve(value);
      });
      move();
    });
  }
}
