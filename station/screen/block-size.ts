import { bigRows } from "./big-text.ts";

export const FRAME_COLUMNS = 2;
/** PASS and STOP. */
const WORD_COLUMNS = 23;
const FRAME_ROWS = 2;
const CAPTION_ROWS = 1;
/** What stands beside a block needs as much to be read without breaking every line. */
const LEAST_BESIDE = 48;
const LARGE_SCALES = [3, 2] as const;

/** @returns rows of a block: word, frame and caption, if it has one */
export function blockRows(scale: number, hasCaption = true): number {
  return bigRows(scale) + FRAME_ROWS + (hasCaption ? CAPTION_ROWS : 0);
}

/** @returns columns of a block; a wider word makes it wider */
export function blockColumns(scale: number): number {
  return WORD_COLUMNS * scale + FRAME_COLUMNS + 2 * paddingOf(scale);
}

/** Small letters too near to their frame run into it. */
export function paddingOf(scale: number): number {
  return scale === 1 ? 1 : 0;
}

/** @returns sizes of letters that leave so many rows free beneath them in a panel of this size, largest first, 1 at last */
export function scalesFor(
  room: { readonly columns: number; readonly rows: number },
  rowsBelow: number,
): readonly number[] {
  const fits = (scale: number) =>
    blockColumns(scale) + LEAST_BESIDE <= room.columns && blockRows(scale) + rowsBelow <= room.rows;
  return [...LARGE_SCALES.filter(fits), 1];
}
