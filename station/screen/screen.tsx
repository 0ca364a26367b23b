import { useStdin, useStdout } from "ink";
import { useEffect, useState, useSyncExternalStore } from "react";
import type { Desk } from "./desk.ts";
import { type Key, KeyDecoder, SEQUENCE_WITHIN_ms } from "./keys.ts";
import { StationView } from "./station-view.tsx";

/** The view of a desk on this terminal: its size, its keys, its colours. */
export function Screen({
  desk,
  isColoured,
}: {
  readonly desk: Pick<Desk, "state" | "watch" | "key" | "isEscUrgent">;
  readonly isColoured: boolean;
}) {
  const state = useSyncExternalStore(
    (changed) => desk.watch(changed),
    () => desk.state,
  );
  useKeys(desk);
  return <StationView look={{ ...useSize(), isColoured }} state={state} />;
}

/** Keys go to the desk as they come, not through a render: a scanner types faster than frames are drawn. */
function useKeys(desk: Pick<Desk, "key" | "isEscUrgent">): void {
  const { stdin, setRawMode } = useStdin();
  useEffect(() => {
    const decoder = new KeyDecoder(() => desk.isEscUrgent);
    let timer: NodeJS.Timeout | undefined;
    const pressAll = (keys: readonly Key[]) => {
      for (const key of keys) desk.key(key);
    };
    const heard = (chunk: unknown) => {
      clearTimeout(timer);
      pressAll(decoder.decode(String(chunk), performance.now()));
      if (decoder.isWaiting) timer = setTimeout(() => pressAll(decoder.flush()), SEQUENCE_WITHIN_ms);
    };
    setRawMode(true);
    stdin.on("data", heard);
    return () => {
      clearTimeout(timer);
      stdin.off("data", heard);
      setRawMode(false);
    };
  }, [desk, stdin, setRawMode]);
}

function useSize(): { readonly columns: number; readonly rows: number } {
  const { stdout } = useStdout();
  const [size, setSize] = useState(() => sizeOf(stdout));
  useEffect(() => {
    const resized = () => setSize(sizeOf(stdout));
    stdout.on("resize", resized);
    return () => {
      stdout.off("resize", resized);
    };
  }, [stdout]);
  return size;
}

function sizeOf({ columns = 80, rows = 24 }: Partial<Pick<NodeJS.WriteStream, "columns" | "rows">>) {
  return { columns, rows };
}
