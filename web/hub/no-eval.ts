// Tells the schema library not to build functions from text: the content policy of the page forbids it, and even a caught try is reported.
// Must be imported before anything that makes a schema.
import { config } from 'zod'

config({ jitless: true })
