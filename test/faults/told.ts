import type { Traveller } from "../../station/records/traveller.ts";

/** A verdict that was told, and the world's time of telling. */
export interface Told {
  readonly traveller: Traveller;
  readonly sha256: string;
  readonly at_s: number;
}
