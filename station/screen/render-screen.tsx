import { render } from "ink";
import type { Desk } from "./desk.ts";
import { wantsColours } from "./look.ts";
import { Screen } from "./screen.tsx";

const FRAMES_PER_SECOND = 10;

/**
 * Draws the desk on this terminal until stopped.
 * @returns stop, which wipes the frame and gives the terminal back
 */
export function renderScreen(desk: Desk): () => void {
  const instance = render(<Screen desk={desk} isColoured={wantsColours(process.env)} />, {
    exitOnCtrlC: false,
    maxFps: FRAMES_PER_SECOND,
    patchConsole: false,
  });
  return () => {
    // An empty frame first: Ink leaves the last one standing.
    instance.rerender(null);
    instance.unmount();
  };
}
