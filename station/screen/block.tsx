import { Box, type BoxProps, Text } from "ink";
import { bigRows, bigText } from "./big-text.ts";
import { blockColumns, FRAME_COLUMNS, paddingOf } from "./block-size.ts";
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
  /** Beneath the word, small; null where its row is needed for something else. */
  readonly caption: string | null;
  /** 1: letters five rows high. */
  readonly scale: number;
  /** Where the letters are to be wider than high. */
  readonly down?: number;
}

/** The one thing to be read from two metres. */
export function Block({ look, kind, word, caption, scale, down = scale }: BlockProps) {
  const { borderStyle, colour, mark } = FRAMES[kind];
  const padding = paddingOf(scale);
  const rows = bigText(word, scale, down) ?? middle(word, down);
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
      {caption === null ? null : (
        <Text bold wrap="truncate">
          {`${mark}${caption}`}
        </Text>
      )}
    </Box>
  );
}

function middle(word: string, down: number): readonly string[] {
  return Array.from({ length: bigRows(down) }, (_, row) =>
    row === Math.floor(bigRows(down) / 2) ? word : " ",
  );
}
