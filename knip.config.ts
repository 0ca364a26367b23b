import type { KnipConfig } from "knip";

export default {
  entry: [
    "station/main.ts",
    "test/bench/main.ts",
    "test/bench/fsync-meter.ts",
    "test/bench/leak-step-worker.ts",
    "test/bench/line-meter.ts",
    "test/bench/line-sender.ts",
    "test/bench/soak-meter.ts",
    "test/bench/screen-cpu-bare.ts",
    "test/bench/main.ts",
    "test/faults/main.ts",
    "test/faults/until-failed.ts",
    "test/faults/patched-modules.ts",
    "test/fuzz/main.ts",
    "test/fuzz/worker.ts",
    "test/kills/main.ts",
    "test/kills/die-at-disk.ts",
    "test/**/*.test.{ts,tsx}",
    "station/records/sealed-worker.ts",
    "test/records/*.mjs",
  ],
  project: ["{station,drivers,limits,sim,test}/**/*.{ts,tsx,mjs}"],
  // Debian's, installed by .ci/run.
  ignoreBinaries: [
    "socat",
    "mount",
    "umount",
    "units",
    "script",
    "pdftoppm",
    "pdftotext",
    "lp",
    "sqlite3",
    "mkfifo",
  ],
  // The reader of fonts that pdfmake brings, asked by a test which letters the paper has.
  ignoreDependencies: ["fontkit"],
  // A type that stands in a public signature is public, whoever imports it by name.
  exclude: ["types"],
} satisfies KnipConfig;
