import { Box, type BoxProps, Text } from "ink";
import { BIG_ROWS, bigText } from "./big-text.ts";
import { frameTint, type Look, tint } from "./look.ts";

type Kind = "pass" | "fail" | "void" | "stop" | "not_started" | "live";

/**
 * Each kind has its own word, its own frame and its own mark; the colour only repeats them. Colours by their meaning in
 * IEC 60073, from memory: green safe or normal, red danger or failure, yellow abnormal.
 */
const FRAMES: Readonly<
  Record<
    Kind,
    {
      readonly borderStyle: NonNullable<BoxProps["borderStyle"]>;
      readonly colour: "green" | "red" | "yellow" | "cyan";
      readonly mark: string;
    }
  >
> = {
  pass: { borderStyle: "round", colour: "green", mark: "√ " },
  fail: { borderStyle: "double", colour: "red", mark: "× " },
  void: { borderStyle: "classic", colour: "yellow", mark: "? " },
  stop: { borderStyle: "bold", colour: "red", mark: "! " },
  not_started: { borderStyle: "classic", colour: "yellow", mark: "? " },
  live: { borderStyle: "single", colour: "cyan", mark: "" },
};

export interface BlockProps {
  readonly look: Look;
  readonly kind: Kind;
  /** In big letters where it has such a form. */
  readonly word: string;
  /** Beneath the word, small. */
  readonly caption: string;
  /** 1: letters five rows high. */
  readonly scale: number;
}

const FRAME_COLUMNS = 2;
/** PASS and STOP. */
const WORD_COLUMNS = 23;
/** Caption and frame. */
const AROUND_ROWS = 3;
/** What stands beside a block needs as much to be read without breaking every line. */
const LEAST_BESIDE = 48;
const LARGE_SCALES = [3, 2] as const;

/** @returns rows of a block: word, caption and frame */
export function blockRows(scale: number): number {
  return BIG_ROWS * scale + AROUND_ROWS;
}

/** @returns columns of a block; a wider word makes it wider */
export function blockColumns(scale: number): number {
  return WORD_COLUMNS * scale + FRAME_COLUMNS + 2 * paddingOf(scale);
}

/** Small letters too near to their frame run into it. */
function paddingOf(scale: number): number {
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

/** The one thing to be read from two metres. */
export function Block({ look, kind, word, caption, scale }: BlockProps) {
  const { borderStyle, colour, mark } = FRAMES[kind];
  const padding = paddingOf(scale);
  const rows = bigText(word, scale) ?? middle(word, scale);
  return (
    <Box
      flexDirection="column"
      alignItems="center"
      flexShrink={0}
      width={Math.max(blockColumns(scale), FRAME_COLUMNS + 2 * padding + (rows[0]?.length ?? 0))}
      paddingX={padding}
      borderStyle={borderStyle}
      {...frameTint(look, colour)}
    >
      <Text bold {...tint(look, colour)}>
        {rows.join("\n")}
      </Text>
      <Text bold wrap="truncate">
        {`${mark}${caption}`}
      </Text>
    </Box>
  );
}

function middle(word: string, scale: number): readonly string[] {
  return Array.from({ length: BIG_ROWS * scale }, (_, row) =>
    row === Math.floor((BIG_ROWS * scale) / 2) ? word : " ",
  );
}
