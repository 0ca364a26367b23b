import fc from "fast-check";

/** Something that reads what it is given, and what must hold whatever that is. */
export interface FuzzTarget {
  readonly name: string;
  /** Its part of all cases; dear ones have a small one. */
  readonly share: number;
  /** @param seen told each input before it is read, so that one on which it hangs is known */
  readonly run: (options: RunOptions, seen: (input: unknown) => void) => Promise<TargetRun>;
}

export interface TargetRun {
  readonly details: fc.RunDetails<unknown>;
  /** Inputs that were taken as good: none of many means that the valid texts the inputs are made of are not. */
  readonly taken: number;
}

export interface RunOptions {
  readonly seed: number;
  readonly numRuns: number;
  /** Where a failure was found, to come straight to it again. */
  readonly path?: string;
}

/** @param holds throws where something does not hold; returns whether the input was taken as good */
export function fuzzTarget<T>(
  name: string,
  share: number,
  inputs: fc.Arbitrary<T>,
  holds: (input: T) => boolean | Promise<boolean>,
): FuzzTarget {
  return {
    name,
    share,
    run: async (options, seen) => {
      let taken = 0;
      const property = fc.asyncProperty(inputs, async (input) => {
        seen(input);
        const holding = holds(input);
        // Awaiting what is known already would cost more than many a case does.
        if (holding instanceof Promise ? await holding : holding) taken++;
      });
      const details: unknown = await fc.check(property, options);
      return { details: details as fc.RunDetails<unknown>, taken };
    },
  };
}
