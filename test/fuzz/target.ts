import fc from "fast-check";

/** Something that reads what it is given, and what must hold whatever that is. */
export interface FuzzTarget {
  readonly name: string;
  /** Its part of all cases; dear ones have a small one. */
  readonly share: number;
  /** @param seen told each input before it is read, so that one on which it hangs is known */
  readonly run: (options: RunOptions, seen: (input: unknown) => void) => Promise<fc.RunDetails<unknown>>;
}

export interface RunOptions {
  readonly seed: number;
  readonly numRuns: number;
  /** Where a failure was found, to come straight to it again. */
  readonly path?: string;
}

/** @param holds throws where something does not hold */
export function fuzzTarget<T>(
  name: string,
  share: number,
  inputs: fc.Arbitrary<T>,
  holds: (input: T) => void | Promise<void>,
): FuzzTarget {
  return {
    name,
    share,
    run: async (options, seen) =>
      fc.check(
        fc.asyncProperty(inputs, async (input) => {
          seen(input);
          const work = holds(input);
          // Awaiting what is done already would cost more than many a case does.
          if (work instanceof Promise) await work;
        }),
        options,
      ) as Promise<fc.RunDetails<unknown>>,
  };
}
