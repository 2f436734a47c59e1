/** Figures of a running worker for a monitor. Labels come from closed sets only. @source Prometheus text exposition format 0.0.4 */
const DEFINITIONS = {
  coilbook_files_total: ["counter", "files taken from the inbox, by what became of them"],
  coilbook_files_waiting: ["gauge", "files that lie in the inbox and cannot be taken yet"],
  coilbook_jobs_total: ["counter", "attempts of jobs, by job and outcome"],
  coilbook_job_seconds_total: ["counter", "time spent in jobs, by job"],
  coilbook_jobs_open: ["gauge", "jobs that are not done, by state"],
  coilbook_documents_written_total: ["counter", "files of documents written, by format"],
  coilbook_turns_total: ["counter", "turns of the worker's loop"],
  coilbook_last_turn_timestamp_seconds: ["gauge", "when the loop last turned"],
  coilbook_service_away: ["gauge", "1 while the ledger or the queue cannot be reached"],
  coilbook_resident_memory_bytes: ["gauge", "resident memory of the process"],
  coilbook_start_timestamp_seconds: ["gauge", "when the process started"],
} as const;

export type MetricName = keyof typeof DEFINITIONS;
type Labels = Readonly<Record<string, string>>;

export interface Metrics {
  add(name: MetricName, labels?: Labels, amount?: number): void;
  set(name: MetricName, value: number, labels?: Labels): void;
  /** One block a metric: help, type, samples. */
  text(): string;
}

const escaped = (text: string): string => text.replaceAll("\\", "\\\\").replaceAll('"', '\\"').replaceAll("\n", "\\n");

function sample(name: string, labels: Labels): string {
  const pairs = Object.entries(labels).map(([label, value]) => `${label}="${escaped(value)}"`);
  return pairs.length === 0 ? name : `${name}{${pairs.join(",")}}`;
}

export function createMetrics(): Metrics {
  const values = new Map<MetricName, Map<string, number>>();
  const of = (name: MetricName): Map<string, number> => {
    const found = values.get(name) ?? new Map<string, number>();
    values.set(name, found);
    return found;
  };
  return {
    add(name, labels = {}, amount = 1) {
      const key = sample(name, labels);
      of(name).set(key, (of(name).get(key) ?? 0) + amount);
    },
    set(name, value, labels = {}) {
      of(name).set(sample(name, labels), value);
    },
    text() {
      this.set("coilbook_resident_memory_bytes", process.memoryUsage.rss());
      const lines: string[] = [];
      for (const [name, [type, help]] of Object.entries(DEFINITIONS)) {
        const samples = values.get(name as MetricName);
        if (samples === undefined) continue;
        lines.push(`# HELP ${name} ${help}`, `# TYPE ${name} ${type}`);
        for (const [key, value] of samples) lines.push(`${key} ${value}`);
      }
      return `${lines.join("\n")}\n`;
    },
  };
}
