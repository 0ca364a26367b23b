import type { StationListener } from "./announcements.ts";
import type { StationController } from "./controller.ts";
import type { Reason } from "./cycle/reason.ts";
import type { Scan } from "./cycle/scan.ts";
import type { FinishedAttempt } from "./recording.ts";

export type Tested =
  | { readonly kind: "finished"; readonly finished: FinishedAttempt }
  | { readonly kind: "refused"; readonly reasons: readonly Reason[] }
  /** The attempt has no verdict yet: it stays open on disk and becomes void when the station recovers. */
  | { readonly kind: "faulted"; readonly reasons: readonly Reason[] };

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
    if (this.#station.state() === "faulted") await this.#recover();
    if (this.#stop?.aborted) return { kind: "refused", reasons: [] };
    return this.#await<Tested>(
      (done) => ({
        armed: () => {
          if (!this.#startsByButton) this.#station.start();
        },
        refused: (_, reasons) => done({ kind: "refused", reasons }),
        finished: (finished) => done({ kind: "finished", finished }),
        faulted: (reasons) => done({ kind: "faulted", reasons }),
      }),
      () => this.#station.scan(scan),
    );
  }

  #recover(): Promise<void> {
    return this.#await<void>(
      (done) => ({ recovered: () => done(), faulted: () => done() }),
      () => this.#station.acknowledge(),
    );
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
