/** A timer of a clock that decides itself when it fires. */
export interface QueuedTimer {
  readonly due_ms: number;
  readonly order: number;
  readonly fn: (...args: unknown[]) => void;
  cancelled: boolean;
}

/** Timers in order of time, then of being set: a binary heap. */
export class TimerQueue {
  readonly #heap: QueuedTimer[] = [];
  #order = 0;

  add(due_ms: number, fn: (...args: unknown[]) => void): QueuedTimer {
    const timer: QueuedTimer = { due_ms, order: this.#order++, fn, cancelled: false };
    this.#push(timer);
    return timer;
  }

  /** The first that is not cancelled; it stays in the queue. */
  first(): QueuedTimer | undefined {
    while (this.#heap[0]?.cancelled) this.#pop();
    return this.#heap[0];
  }

  /** Takes the first out. */
  shift(): QueuedTimer | undefined {
    const first = this.first();
    if (first) this.#pop();
    return first;
  }

  #push(timer: QueuedTimer): void {
    const heap = this.#heap;
    let at = heap.length;
    heap.push(timer);
    while (at > 0) {
      const parent = (at - 1) >> 1;
      const above = heap[parent] as QueuedTimer;
      if (!isBefore(timer, above)) break;
      heap[at] = above;
      at = parent;
    }
    heap[at] = timer;
  }

  #pop(): void {
    const heap = this.#heap;
    const last = heap.pop() as QueuedTimer;
    if (heap.length === 0) return;
    let at = 0;
    for (;;) {
      let child = 2 * at + 1;
      if (child >= heap.length) break;
      if (child + 1 < heap.length && isBefore(heap[child + 1] as QueuedTimer, heap[child] as QueuedTimer))
        child++;
      if (!isBefore(heap[child] as QueuedTimer, last)) break;
      heap[at] = heap[child] as QueuedTimer;
      at = child;
    }
    heap[at] = last;
  }
}

function isBefore(a: QueuedTimer, b: QueuedTimer): boolean {
  return a.due_ms < b.due_ms || (a.due_ms === b.due_ms && a.order < b.order);
}
