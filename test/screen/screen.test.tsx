import { stripVTControlCharacters } from "node:util";
import fc from "fast-check";
import { cleanup, render } from "ink-testing-library";
import { afterEach, describe, expect, it } from "vitest";
import type { Key } from "../../station/screen/keys.ts";
import { NO_LINE } from "../../station/screen/line-editor.ts";
import { press } from "../../station/screen/press.ts";
import { Screen } from "../../station/screen/screen.tsx";
import type { ScreenState } from "../../station/screen/screen-state.ts";
import { isEscUrgent } from "../../station/screen/station-states.ts";
import { wrapWords } from "../../station/screen/wrap-words.ts";
import { atWork, testing } from "./example-state.ts";
import { reader } from "./press-keys.ts";

afterEach(cleanup);

/** A desk without a station: it keeps the line that is typed and the deeds asked for. */
function deskOf(start: ScreenState) {
  let line = NO_LINE;
  const deeds: unknown[] = [];
  const watchers = new Set<() => void>();
  const desk = {
    state: start,
    isEscUrgent: isEscUrgent(start),
    deeds,
    watch(changed: () => void) {
      watchers.add(changed);
      return () => {
        watchers.delete(changed);
      };
    },
    key(key: Key) {
      const { state, line: left, deed } = press(desk.state, line, key, reader);
      desk.state = state;
      line = left;
      if (deed.do !== "nothing") deeds.push(deed);
      for (const changed of watchers) changed();
    },
  };
  return desk;
}

/** Effects, which listen to the keyboard, run after the first frame. */
async function shown(desk: ReturnType<typeof deskOf>) {
  const screen = render(<Screen desk={desk} isColoured={false} />);
  while (screen.stdin.listenerCount("data") === 0) await new Promise((resolve) => setImmediate(resolve));
  return { ...screen, text: () => stripVTControlCharacters(screen.lastFrame() ?? "") };
}

describe("the screen on a terminal", () => {
  it("loses no character of a scanner that types faster than frames are drawn", async () => {
    const desk = deskOf(atWork("ready"));
    const { stdin } = await shown(desk);
    const serials = Array.from({ length: 50 }, (_, k) => `TUB${531_800 + k}`);
    for (const character of serials.join("\r\n")) stdin.write(character);
    stdin.write("\r");
    expect(desk.deeds).toEqual(serials.map((serial) => ({ do: "scan", scan: { serial, parts: {} } })));
  });

  it("shows the line as it is typed", async () => {
    const desk = deskOf(atWork("ready"));
    const { stdin, text } = await shown(desk);
    stdin.write("TUB53");
    await expect.poll(text).toContain("> TUB53");
    stdin.write("\x7f\x7f99");
    await expect.poll(text).toContain("> TUB99");
  });

  it("aborts at once by Esc, and hears an Esc alone where nothing runs a moment later", async () => {
    const running = deskOf(testing());
    const { stdin } = await shown(running);
    stdin.write("\x1b");
    expect(running.deeds).toEqual([{ do: "abort" }]);
    const idle = deskOf(atWork("ready", { overlay: "help" }));
    const second = await shown(idle);
    second.stdin.write("\x1b");
    await expect.poll(() => idle.state.overlay).toBeNull();
  });

  it("follows the terminal's size", async () => {
    const desk = deskOf(atWork("ready"));
    const { stdout, text } = await shown(desk);
    expect(text()).toContain("Today:");
    Object.defineProperty(stdout, "columns", { value: 70, configurable: true });
    stdout.emit("resize");
    await expect.poll(text).toContain("This window has 70 x 24 characters");
    Object.defineProperty(stdout, "columns", { value: 120, configurable: true });
    stdout.emit("resize");
    await expect.poll(text).toContain("Today:");
  });

  it("hears no keys any more once it is taken down", async () => {
    const desk = deskOf(atWork("ready"));
    const { stdin, unmount } = await shown(desk);
    unmount();
    stdin.write("q\r");
    expect(desk.deeds).toEqual([]);
  });
});

describe("sentences on the screen", () => {
  it("are broken between words, keep every word and no line is too long", () => {
    fc.assert(
      fc.property(
        fc.array(fc.stringMatching(/^[a-z.,]{1,12}$/), { maxLength: 40 }),
        fc.integer({ min: 14, max: 80 }),
        (words, width) => {
          const lines = wrapWords(words.join(" "), width, "  ");
          expect(lines.map((line) => line.trim()).join(" ")).toBe(words.join(" "));
          for (const line of lines) expect(line.length).toBeLessThanOrEqual(width);
        },
      ),
    );
  });

  it("cut a word longer than the line instead of losing its end", () => {
    expect(wrapWords("abcdefghij", 4)).toEqual(["abcd", "efgh", "ij"]);
  });
});
