/** Who may decide what. Commands ask here, so that the table a laboratory is shown is the one that is applied. */

export type RoleName = "bench" | "clerk" | "sales" | "quality" | "admin";

export interface CommandRule {
  readonly roles: readonly RoleName[];
  /** The clause that asks for a named or authorised person, where one does. All from memory. */
  readonly clause?: string;
}

/**
 * @source ISO 9001:2015 8.6, 8.7, 10.2; ISO/IEC 17025:2017 6.2, 6.4, 7.8, 7.10 (memory); who of the bench or the office may stop
 * wire is common practice, no source
 */
export const COMMAND_RULES = {
  hold: { roles: ["bench", "clerk", "quality"], clause: "ISO/IEC 17025 7.10.1" },
  release: { roles: ["quality"], clause: "ISO 9001 8.7.2" },
  settle: { roles: ["quality"], clause: "ISO/IEC 17025 6.2.6" },
  concession: { roles: ["quality"], clause: "ISO 9001 8.7.2" },
  ship: { roles: ["clerk", "sales", "quality"], clause: "ISO 9001 8.6" },
  confirm: { roles: ["quality"], clause: "ISO/IEC 17025 7.10.1" },
  amend: { roles: ["quality"], clause: "ISO/IEC 17025 7.8.8" },
  withdraw: { roles: ["quality"], clause: "ISO/IEC 17025 7.8.8" },
  "notice contain": { roles: ["bench", "clerk", "quality"], clause: "ISO 9001 8.7.1" },
  "notice decide": { roles: ["quality"], clause: "ISO 9001 8.7.2" },
  "notice close": { roles: ["quality"], clause: "ISO 9001 10.2" },
  "person add": { roles: ["admin", "quality"], clause: "ISO/IEC 17025 6.2.5" },
  "customer add": { roles: ["sales", "quality", "admin"] },
  "instrument add": { roles: ["quality", "admin"], clause: "ISO/IEC 17025 6.4.13" },
} as const satisfies Record<string, CommandRule>;

export type RuledCommand = keyof typeof COMMAND_RULES;
