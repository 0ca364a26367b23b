import { render } from "ink";
import type { Desk } from "./desk.ts";
import { Screen } from "./screen.tsx";

const FRAMES_PER_SECOND = 10;

/**
 * Draws the desk on this terminal until stopped.
 * @returns stop, which wipes the frame and gives the terminal back
 */
export function renderScreen(desk: Desk): () => void {
  // https://no-color.org: present and not empty, whatever it says.
  const isColoured = (process.env.NO_COLOR ?? "") === "";
  const instance = render(<Screen desk={desk} isColoured={isColoured} />, {
    exitOnCtrlC: false,
    maxFps: FRAMES_PER_SECOND,
    patchConsole: false,
  });
  return () => {
    instance.clear();
    instance.unmount();
  };
}
