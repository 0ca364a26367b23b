import { createContext } from "react";
import type { ScreenState } from "./screen-state.ts";

/** Whoever draws the rows that move, as long as a frame has any. */
export interface Live {
  /** @returns as many rows as the frame has marks */
  draw: (observed: ScreenState["observed"]) => readonly string[];
}

/** Null: the moving rows are drawn by Ink like all others, as in a single frame. */
export const LiveContext = createContext<Live | null>(null);
