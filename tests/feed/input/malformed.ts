import { decodeLine } from "../../../src/feed/feed-line.ts";
import { LineCutter } from "../../../src/feed/line-cutter.ts";
import { Damage } from "../mutations.ts";
import { envelope, samples } from "../samples.ts";

/** Records as broken lines and broken senders make them; each is one that cannot be used. */
export function* malformed(): Generator<string> {
  const damage = new Damage(4_711);
  const cutter = new LineCutter();
  const lines = samples.map(([topic, record]) => Buffer.from(envelope(topic, record)));
  for (;;) {
    const bytes = damage.below(2) === 0;
    const [topic, record] = samples[damage.below(samples.length)]!;
    const line = bytes
      ? damage
          .bytes(lines[damage.below(lines.length)]!)
          .toString("latin1")
          .replaceAll(/[\r\n]/g, " ")
      : envelope(topic, damage.structure(record));
    const [opened] = cutter.cut(Buffer.from(`${line}\n`));
    if (opened !== undefined && decodeLine(opened).rejected !== undefined) yield line;
  }
}
