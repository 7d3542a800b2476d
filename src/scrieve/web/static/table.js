// What scripts say, in the language served: nothing here for English, which stands where it is said.
export const TABLE = {};
