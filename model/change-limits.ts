// How long the texts of a change may be; without the schemas, for a page that must stay small.

/** Characters of the sentence that says what a change did. */
export const LONGEST_WHAT = 500
/** Characters of the reason for it. */
export const LONGEST_WHY = 2000
/** Records that a page may change at once. */
export const MOST_ITEMS = 5000
