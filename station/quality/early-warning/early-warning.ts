/** A characteristic of a model, or of what one cavity makes, that no longer is what it was. Times are ISO 8601 instants. */
export interface EarlyWarning {
  readonly model: string;
  readonly characteristic: string;
  /** Of `before` and `since`. */
  readonly unit: string;
  /** Whose units these are: "tub_cavity" and "P2"; null for the whole model. */
  readonly cavity: { readonly part: string; readonly value: string } | null;
  readonly direction: "rises" | "falls";
  /** For the inspector: "Leak rate of POD-4 rises since POD000123, 14 units: tell the quality engineer." */
  readonly sentence: string;
  /** The first unit that is suspected to be different: an estimate, several units off as a rule. */
  readonly first: WarnedUnit;
  /** The unit at which the warning was given. */
  readonly signalled: WarnedUnit;
  /** The unit since which it no longer holds, and why; null while it stands. */
  readonly ended: (WarnedUnit & { readonly why: WhyEnded }) | null;
  /** Units with a value from the first suspect on; of a cavity, its own. */
  readonly units: number;
  /** How far the units since are from those before, in standard deviations of single units; its sign is the direction's. */
  readonly shift_sd: number;
  /** Medians of the units before and since. */
  readonly before: number;
  readonly since: number;
  /** What else changed about then, the most likely first; empty where nothing that is recorded did. */
  readonly changed: readonly ChangedThen[];
  /** Other characteristics of the same units that changed at about the same time. */
  readonly together: readonly string[];
}

/** "not confirmed": compared with newer units, which a watch turns to every thousand records, it is no drift. */
export type WhyEnded = "returned" | "new level" | "limits changed" | "not confirmed";

export interface WarnedUnit {
  readonly serial: string;
  readonly at: string;
}

/** Something recorded of units that is another thing from about a first suspect on. */
export interface ChangedThen {
  /** "gasket_lot", "limit revision", "shift", "gauge leak", "inspector", "station" */
  readonly what: string;
  readonly from: string;
  readonly to: string;
  /** The first unit with it. */
  readonly serial: string;
  readonly at: string;
  /** Units between it and the first suspect: negative where it came before. */
  readonly offset: number;
}
