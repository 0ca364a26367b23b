import { Box, Text } from "ink";
import { type Look, tint } from "./look.ts";
import type { ScreenState } from "./screen-state.ts";
import { Words } from "./words.tsx";
import { wrapWords } from "./wrap-words.ts";

const ASKED: Readonly<Record<ScreenState["signIn"]["asks"], string>> = {
  name: "Name:",
  badge_or_name: "Badge or name:",
  pin: "PIN:",
};

/** Who is asked for what, and why the last try was not taken. */
export function SignInQuestion({ look, state }: { readonly look: Look; readonly state: ScreenState }) {
  const { asks, name, said, isBusy } = state.signIn;
  const locked_s = lockedFor_s(state);
  return (
    <Box flexDirection="column" flexShrink={0}>
      <Text bold wrap="truncate">
        {asks === "pin" && name !== null ? `${name}, ${ASKED.pin}` : ASKED[asks]}
        {` ${state.typed}${isBusy ? "   one moment..." : ""}`}
      </Text>
      {said === null ? null : <Words bold text={said} width={look.columns} {...tint(look, "yellow")} />}
      {locked_s > 0 ? (
        <Text bold {...tint(look, "yellow")}>{`Locked for another ${locked_s} s.`}</Text>
      ) : null}
    </Box>
  );
}

/** @returns rows that the question takes */
export function signInRows(state: ScreenState, width: number): number {
  const { said } = state.signIn;
  return 1 + (said === null ? 0 : wrapWords(said, width).length) + (lockedFor_s(state) > 0 ? 1 : 0);
}

function lockedFor_s({ signIn, observed }: ScreenState): number {
  return signIn.lockedUntil_ms === null ? 0 : Math.ceil((signIn.lockedUntil_ms - observed.now_ms) / 1000);
}
