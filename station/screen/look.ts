import type { TextProps } from "ink";

type Colour = "green" | "red" | "yellow" | "cyan" | "magenta";

/** How the terminal wants to be written to. */
export interface Look {
  readonly columns: number;
  readonly rows: number;
  /** False where NO_COLOR is set: words and frames alone then carry the meaning, as they always do. */
  readonly isColoured: boolean;
}

export const SMALLEST = { columns: 80, rows: 24 } as const;

/** @returns whether colours are wanted; https://no-color.org: NO_COLOR present and not empty, whatever it says, means no */
export function wantsColours(environment: Readonly<Record<string, string | undefined>>): boolean {
  return (environment.NO_COLOR ?? "") === "";
}

/** @returns the colour as properties of a text, none where there are no colours */
export function tint({ isColoured }: Look, color: Colour): Pick<TextProps, "color"> {
  return isColoured ? { color } : {};
}

/** @returns the colour as properties of a frame */
export function frameTint({ isColoured }: Look, borderColor: Colour): { borderColor?: Colour } {
  return isColoured ? { borderColor } : {};
}
