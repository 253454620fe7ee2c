#!/usr/bin/env node
/** The `guardband` command: runs cli/main.ts on a Node new enough for it, in the caller's folder. */
import { launch } from '../launch.mjs'

process.exitCode = await launch('run', process.argv.slice(2))
