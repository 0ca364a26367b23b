import { Box, type BoxProps, Text } from "ink";
import { BIG_ROWS, bigText } from "./big-text.ts";
import { frameTint, type Look, tint } from "./look.ts";

type Kind = "pass" | "fail" | "void" | "stop" | "not_started" | "live";

/** Each kind has its own word and its own frame; the colour only repeats them. */
const FRAMES: Readonly<
  Record<
    Kind,
    {
      readonly borderStyle: NonNullable<BoxProps["borderStyle"]>;
      readonly colour: "green" | "red" | "yellow" | "cyan";
    }
  >
> = {
  pass: { borderStyle: "round", colour: "green" },
  fail: { borderStyle: "double", colour: "red" },
  void: { borderStyle: "classic", colour: "yellow" },
  stop: { borderStyle: "bold", colour: "red" },
  not_started: { borderStyle: "classic", colour: "yellow" },
  live: { borderStyle: "single", colour: "cyan" },
};

export interface BlockProps {
  readonly look: Look;
  readonly kind: Kind;
  /** In big letters where it has such a form. */
  readonly word: string;
  /** Beneath the word, small. */
  readonly caption: string;
}

/** Word, caption and frame. */
export const BLOCK_ROWS = BIG_ROWS + 3;
/** Columns of a block; a wider word makes it wider. */
export const BLOCK_COLUMNS = 28;
/** Frame and padding, both sides. */
const AROUND_WORD = 4;

/** The one thing to be read from two metres. */
export function Block({ look, kind, word, caption }: BlockProps) {
  const { borderStyle, colour } = FRAMES[kind];
  const rows = bigText(word) ?? ["", "", word, "", ""];
  return (
    <Box
      flexDirection="column"
      alignItems="center"
      flexShrink={0}
      width={Math.max(BLOCK_COLUMNS, AROUND_WORD + (rows[0]?.length ?? 0))}
      paddingX={1}
      borderStyle={borderStyle}
      {...frameTint(look, colour)}
    >
      <Text bold {...tint(look, colour)}>
        {rows.join("\n")}
      </Text>
      <Text bold wrap="truncate">
        {caption}
      </Text>
    </Box>
  );
}
