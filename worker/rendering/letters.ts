/** Which letters the fonts of this program draw, regular and bold: those in templates/fonts, and signs that draw nothing. */
const RANGES = [
  String.raw`\u{0}-\u{7f}\u{a0}-\u{24f}\u{2b0}-\u{377}\u{37a}-\u{37f}\u{384}-\u{38a}\u{38c}\u{38e}-\u{3a1}\u{3a3}-\u{3e1}`,
  String.raw`\u{3f0}-\u{4ff}\u{591}-\u{5c7}\u{5d0}-\u{5ea}\u{5f0}-\u{5f4}\u{600}-\u{61c}\u{61e}-\u{6ff}\u{1e00}-\u{1eff}`,
  String.raw`\u{2000}-\u{2064}\u{2066}-\u{206f}\u{20a0}-\u{20bf}\u{2100}-\u{214f}\u{2190}-\u{2193}\u{2202}\u{2205}\u{2206}`,
  String.raw`\u{220f}\u{2211}\u{2212}\u{2215}\u{221a}\u{221e}\u{2229}\u{222b}\u{2248}\u{2260}\u{2261}\u{2264}\u{2265}`,
  String.raw`\u{25a0}-\u{25af}\u{25b2}\u{25b3}\u{25bc}\u{25bd}\u{25c6}\u{25c7}\u{25ca}-\u{25cc}\u{25cf}\u{2713}-\u{2718}`,
  String.raw`\u{feff}\u{fffd}`,
].join("");
const STRANGE = new RegExp(`[^${RANGES}]`, "gu");

/** Letters of a text that no font of ours draws, each once; a font of the machine may. */
export const strangeLetters = (text: string): readonly string[] => [...new Set(text.match(STRANGE) ?? [])].sort();

/** `"中" (U+4E2D)` */
export const nameOfLetter = (letter: string): string =>
  `"${letter}" (U+${(letter.codePointAt(0) ?? 0).toString(16).toUpperCase().padStart(4, "0")})`;
