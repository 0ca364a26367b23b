import { render } from "ink";
import { CalmDesk, type ShownDesk } from "./calm-desk.ts";
import { drawFirstFrame, type FirstFrame } from "./first-frame.ts";
import { type Live, LiveContext } from "./live.ts";
import { wantsColours } from "./look.ts";
import { Screen } from "./screen.tsx";

/**
 * Draws the desk until stopped.
 * @param first which has the terminal until now
 * @returns stop, which gives the terminal back as it was
 */
export function renderScreen(desk: ShownDesk, first: FirstFrame = drawFirstFrame()): () => void {
  first.handOver();
  const { painter } = first;
  const live: Live = { draw: () => [] };
  painter.drawLive = () => live.draw(desk.state.observed);
  const shown = (
    <LiveContext value={live}>
      <Screen desk={new CalmDesk(desk, painter)} isColoured={wantsColours(process.env)} />
    </LiveContext>
  );
  const instance = render(shown, {
    // Of a stream Ink uses no more than a painter has.
    stdout: painter as unknown as NodeJS.WriteStream,
    // Whole frames, without Ink's own erasing: the painter writes what has changed of them.
    debug: true,
    exitOnCtrlC: false,
    patchConsole: false,
  });
  return () => {
    instance.unmount();
    first.close();
  };
}
