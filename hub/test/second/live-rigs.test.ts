// What rigs are at, as page and phones see it, and how what people answer comes back to the rig.
import { request } from 'node:https'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { liveRigSchema, type Ask, type AskAnswer, type LiveRig } from '@guardband/model'
import { testSources } from '../test-hub.ts'
import { ask, liveState, rigClient, told, type RigClient } from './rig-journal.ts'
import { startSecondHub, type Phone, type SecondHub } from './second-hub.ts'

let test: SecondHub
let rig: RigClient
let phone: Phone
beforeEach(async () => {
  test = await startSecondHub()
  rig = await rigClient(test)
  phone = await test.pairPhone('phone of the north bench')
})
afterEach(() => test.end())

const rigsOf = (text: string): readonly LiveRig[] => liveRigSchema.array().parse((JSON.parse(text) as { rigs: unknown }).rigs)
const onPage = async (): Promise<readonly LiveRig[]> => rigsOf((await test.get('/api/live/rigs')).text)
const onPhone = async (): Promise<readonly LiveRig[]> => rigsOf((await phone.get('/bench/rigs')).bytes.toString())
const device = async (): Promise<string> => (await onPage())[0].device.id
const fromPage = async (answer: AskAnswer): Promise<unknown> => {
  const reply = await test.post(`/api/live/rigs/${await device()}/answer`, answer)
  return told({ status: reply.status, bytes: Buffer.from(reply.text) })
}
const fromPhone = async (answer: AskAnswer): Promise<unknown> => told(await phone.post(`/bench/rigs/${await device()}/answer`, answer))
const stop = async (): Promise<number> => (await test.post(`/api/live/rigs/${await device()}/stop`, {})).status
const asking = (question: Ask) => liveState({ state: 'asks', message: question.text, ask: question })

describe('a rig at work', () => {
  it('stands on page and phone as it said last, with when it was heard by the hub\'s clock and how its own stands', async () => {
    expect(await onPage()).toEqual([])
    await rig.says(liveState())
    test.wait(3600_000)
    await rig.says(liveState({ done: 2 }))
    const [seen] = await onPage()
    expect(seen).toMatchObject({ device: { name: 'south bench' }, state: { done: 2, step: { name: 'tile render, all cores' } }, clock: { offset: 0.25, within: 0.01 }, answered: null, answeredBy: null, stopAsked: false })
    expect(Math.abs(Date.parse(seen.heard) - Date.now() - 3600_000)).toBeLessThan(60_000)
    expect(await onPhone()).toEqual([seen])
  })

  it('is told to phones that listen, as a word to look anew', async () => {
    const heard = new Promise<string>((resolve, reject) => {
      const outgoing = request(new URL('/bench/events', test.url), { headers: phone.headers, rejectUnauthorized: false, agent: false }, (incoming) => {
        let text = ''
        incoming.setEncoding('utf8')
        incoming.on('data', (part: string) => {
          if (text === '') void rig.says(liveState()).catch(reject)
          text += part
          if (!text.includes('data: ')) return
          outgoing.destroy()
          resolve(text.slice(text.indexOf('data: ')).split('\n')[0])
        })
      })
      outgoing.on('error', reject)
      outgoing.end()
    })
    expect(await heard).toBe('data: {"type":"rigs"}')
  })

  it('that is revoked stands there no longer', async () => {
    await rig.says(liveState())
    await test.post(`/api/devices/${await device()}/revoke`)
    expect(await onPage()).toEqual([])
  })

  it('of the workspace before is not there in the next one', async () => {
    await rig.says(liveState())
    await test.post('/api/labs', { name: 'another', currency: 'EUR' })
    expect(await onPage()).toEqual([])
  })
})

describe('an answer', () => {
  it('goes to the rig with each reply until it no longer asks, so that a lost reply loses none, and to no other question', async () => {
    const first = ask()
    expect(await rig.says(asking(first))).toMatchObject({ answers: [] })
    expect(await fromPhone({ ask: first.id, answer: '' })).toEqual([200, undefined])
    expect((await onPage())[0]).toMatchObject({ answered: '', answeredBy: { who: 'phone of the north bench', via: 'phone' } })
    for (let times = 0; times < 2; times++) expect(await rig.says(asking(first))).toMatchObject({ answers: [{ ask: first.id, answer: '', who: 'phone of the north bench', via: 'phone' }] })
    const second = ask({ kind: 'choice', words: ['cold', 'warm'] })
    expect(await rig.says(asking(second))).toMatchObject({ answers: [] })
    expect(await rig.says(asking(first))).toMatchObject({ answers: [] })
    expect((await onPage())[0]).toMatchObject({ answered: null, answeredBy: null })
  })

  it('from the page carries the name of the person there', async () => {
    const question = ask({ kind: 'choice', words: ['cold', 'warm'] })
    await rig.says(asking(question))
    expect(await fromPage({ ask: question.id, answer: 'cold' })).toEqual([200, undefined])
    expect(await rig.says(asking(question))).toMatchObject({ answers: [{ answer: 'cold', who: 'tester', via: 'page' }] })
  })

  it('that fits no open question is refused with 409, one that is no answer to it with 422', async () => {
    await rig.says(liveState())
    expect(await fromPage({ ask: testSources().newId(), answer: '' })).toEqual([409, 'ask-over'])
    const choice = ask({ kind: 'choice', words: ['cold', 'warm'] })
    await rig.says(asking(choice))
    expect([await fromPhone({ ask: testSources().newId(), answer: 'cold' }), await fromPhone({ ask: choice.id, answer: 'lukewarm' }), await fromPage({ ask: choice.id, answer: '' })]).toEqual([[409, 'ask-over'], [422, 'ask-word'], [422, 'ask-word']])
    const value = ask({ kind: 'value', unit: 'W' })
    await rig.says(asking(value))
    for (const answer of ['', '  ', 'a lot', '1,5', '0x10', 'NaN', 'Infinity', '41 W', '1e999']) expect([answer, await fromPage({ ask: value.id, answer })]).toEqual([answer, [422, answer.trim() === '' ? 'ask-empty' : 'ask-number']])
    expect(await fromPage({ ask: value.id, answer: ' 41.5 ' })).toEqual([200, undefined])
    expect(await rig.says(asking(value))).toMatchObject({ answers: [{ answer: '41.5' }] })
  })

  it('stands once it is given: another one is refused, the same once more is a lost reply', async () => {
    const question = ask({ kind: 'choice', words: ['cold', 'warm'] })
    await rig.says(asking(question))
    expect([await fromPhone({ ask: question.id, answer: 'cold' }), await fromPhone({ ask: question.id, answer: 'cold' }), await fromPage({ ask: question.id, answer: 'warm' })]).toEqual([[200, undefined], [200, undefined], [409, 'ask-answered']])
    expect(await rig.says(asking(question))).toMatchObject({ answers: [{ answer: 'cold', via: 'phone' }] })
  })

  it('to a rig that nobody heard of is refused with 404, as one with an address that is no device', async () => {
    const nobody = testSources().newId()
    for (const [path, status] of [[`/api/live/rigs/${nobody}/answer`, 404], [`/api/live/rigs/${nobody}/stop`, 404], ['/api/live/rigs/x/answer', 400]] as const) {
      expect([path, (await test.post(path, path.endsWith('stop') ? {} : { ask: nobody, answer: '' })).status]).toEqual([path, status])
    }
    expect((await phone.post(`/bench/rigs/${nobody}/answer`, { ask: nobody, answer: '' })).status).toBe(404)
    expect((await phone.post(`/bench/rigs/${nobody}/stop`, {})).status).toBe(404)
  })
})

describe('a stop', () => {
  it('is handed out until the rig has stopped, and not to the next plan', async () => {
    await rig.says(liveState())
    expect(await stop()).toBe(200)
    expect((await onPage())[0].stopAsked).toBe(true)
    for (let times = 0; times < 2; times++) expect(await rig.says(liveState())).toMatchObject({ stop: true })
    expect(await rig.says(liveState({ state: 'stopped' }))).toMatchObject({ stop: false })
    expect(await rig.says(liveState())).toMatchObject({ stop: false })
    await stop()
    expect(await rig.says(liveState({ plan: { id: 'plan-2', title: 'Another', hash: 'a'.repeat(64) } }))).toMatchObject({ stop: false })
  })
})
