/*
 * One spoilt pack for each kind of fault: refused with the right code, path and line; and what good packs are read as.
 */
#include "pack_texts.h"
#include "packs/pack_data.h"
#include "test.h"

static int32_t parse(const char *text, struct pack **pack, cfoil_error_info *error)
{
    return pack_parse(&memory_heap, "test.json", text, strlen(text), pack, error);
}

/* ---- Faults ---- */

struct fault {
    const char *base;
    const char *from;
    const char *to;
    const char *begins; /* of the error text, after "test.json: " */
};

static const struct fault faults[] = {
    /* The whole */
    {good_currency, "{\n", "[1,\n", "line 2: "},
    {good_messages, good_messages, "[]", "top level: line 1: a pack must be an object"},
    {good_messages, good_messages, "1", "top level: line 1: a pack must be an object"},
    {good_currency, "\"schema\"", "\"skema\"", "top level: line 1: the key 'schema' is missing"},
    {good_currency, "counterfoil.currency/1", "counterfoil.currency/2",
     "schema: line 2: must be one that this version"},
    {good_currency, "\"counterfoil.currency/1\"", "1", "schema: line 2: must be one that this version"},
    {good_currency, "\"decimals\": 2,", "\"decimals\": 2, \"background\": [{\"text\": \"a\", \"source\": [\"x\"]}],",
     "background[0]: line 5: the key 'confidence' is missing"},
    {good_currency, "\"decimals\": 2,", "\"decimals\": 2, \"colour\": 1,", "colour: line 5: this key is not known"},
    {good_currency, "\"decimals\": 2,\n", "\n", "top level: line 1: the key 'decimals' is missing"},
    {good_currency, "\"id\": \"XTS\"", "\"id\": \"XT\"", "id: line 3: must be the ISO 4217 code"},
    {good_currency, "\"id\": \"XTS\"", "\"id\": \"xts\"", "id: line 3: must be the ISO 4217 code"},
    {good_currency, "\"id\": \"XTS\"", "\"id\": \"XTSS\"", "id: line 3: must be the ISO 4217 code"},
    {good_currency, "\"version\": \"7\"", "\"version\": \"\"", "version: line 3: the text is too short"},
    {good_currency, "\"version\": \"7\"", "\"version\": 7", "version: line 3: must be a text"},
    {good_currency, "\"version\": \"7\"", "\"version\": \"a\\nb\"", "version: line 3: the text holds a control"},
    {good_currency, "\"reviewed\": \"2026-02-28\"", "\"reviewed\": \"2026-02-29\"", "reviewed: line 4: must be a date"},
    {good_currency, "\"reviewed\": \"2026-02-28\"", "\"reviewed\": \"2026-13-01\"", "reviewed: line 4: must be a date"},
    {good_currency, "\"reviewed\": \"2026-02-28\"", "\"reviewed\": \"2026-00-01\"", "reviewed: line 4: must be a date"},
    {good_currency, "\"reviewed\": \"2026-02-28\"", "\"reviewed\": \"2026-01-00\"", "reviewed: line 4: must be a date"},
    {good_currency, "\"reviewed\": \"2026-02-28\"", "\"reviewed\": \"2026/02/28\"", "reviewed: line 4: must be a date"},
    {good_currency, "\"reviewed\": \"2026-02-28\"", "\"reviewed\": \"2026-02/28\"", "reviewed: line 4: must be a date"},
    {good_currency, "\"reviewed\": \"2026-02-28\"", "\"reviewed\": \"202a-02-28\"", "reviewed: line 4: must be a date"},
    {good_currency, "\"reviewed\": \"2026-02-28\"", "\"reviewed\": \"28.2.2026\"",
     "reviewed: line 4: the text is too sh"},
    {good_currency, "2026-02-28", "1800-01-01", "reviewed: line 4: must be a date"},
    {good_currency, "2026-02-28", "2100-02-29", "reviewed: line 4: must be a date"},
    {good_currency, "2026-02-28", "2026-02-2:", "reviewed: line 4: must be a date"},
    {good_currency, "\"decimals\": 2", "\"decimals\": 5", "decimals: line 5: must be a whole number from 0 to 4"},
    {good_currency, "\"decimals\": 2", "\"decimals\": -1", "decimals: line 5: must be a whole number from 0 to 4"},
    {good_currency, "\"decimals\": 2", "\"decimals\": 1.5", "decimals: line 5: must be a whole number"},
    {good_currency, "\"decimals\": 2", "\"decimals\": 1e999", "decimals: line 5: must be a whole number from"},
    {good_currency, "\"decimals\": 2", "\"decimals\": \"2\"", "decimals: line 5: must be a whole number"},
    {good_currency, "\"decimals\": 2", "\"decimals\": true", "decimals: line 5: must be a whole number"},
    /* Sources and confidence */
    {good_currency, "\"source\": [\"book\"], \"confidence\": \"one\",\n\"sources\"",
     "\"confidence\": \"one\",\n\"sources\"", "top level: line 1: the key 'source' is missing"},
    {good_currency, "[\"book\"], \"confidence\": \"one\",\n\"sources\"",
     "[\"page\"], \"confidence\": \"one\",\n\"sources\"", "source[0]: line 6: 'page' is not in the table of sources"},
    {good_currency, "[\"book\"], \"confidence\": \"one\",\n\"sources\"", "[], \"confidence\": \"one\",\n\"sources\"",
     "source: line 6: has 0 entries"},
    {good_currency, "[\"book\"], \"confidence\": \"one\",\n\"sources\"",
     "\"book\", \"confidence\": \"one\",\n\"sources\"", "source: line 6: must be a list"},
    {good_currency, "[\"book\"], \"confidence\": \"one\",\n\"sources\"", "[7], \"confidence\": \"one\",\n\"sources\"",
     "source[0]: line 6: must be the key of a source"},
    {good_currency, "\"confidence\": \"one\",\n\"sources\"", "\"confidence\": \"high\",\n\"sources\"",
     "confidence: line 6: must be several, one,"},
    {good_currency, "\"hand\": \"a hand\"", "\"hand\": 1", "sources.hand: line 8: must be a text"},
    {good_currency, "\"hand\": \"a hand\"", "\"\": \"x\"", "sources.: line 8: a key has 1 to 40"},
    {good_currency, "\"hand\": \"a hand\"", "\"a\\nb\": \"x\"", "sources.a?b: line 8: a key has 1 to 40"},
    {good_currency, "\"sources\": {\"book\": \"a book\",\n  \"hand\": \"a hand\"}", "\"sources\": {}",
     "sources: line 7: has 0 entries"},
    /* Series */
    {good_currency, "\"status\": \"issued\", ", "", "series[0]: line 10: the key 'status' is missing"},
    {good_currency, "\"id\": \"A\"", "\"id\": \"B\"", "series[1].id: line 11: the series 'B' stands twice"},
    {good_currency, "\"id\": \"A\"", "\"id\": \"A/1\"", "series[1].id: line 11: may hold letters"},
    {good_currency, "\"id\": \"A\"", "\"id\": \"A234567890123456\"", "series[1].id: line 11: the text is too long"},
    {good_currency, "\"series\": [\n", "\"series\": {},\n\"x\": [\n", "series: line 9: must be a list"},
    {good_currency, "\"sources\": {\"book\": \"a book\",\n  \"hand\": \"a hand\"}", "\"sources\": []",
     "sources: line 7: must be an object"},
    {good_currency, "\"id\": \"A\"", "\"id\": \"A{\"", "series[1].id: line 11: may hold letters"},
    {good_currency, "\"id\": \"A\"", "\"id\": \"A[\"", "series[1].id: line 11: may hold letters"},
    {good_currency, "\"id\": \"A\"", "\"id\": \"A:\"", "series[1].id: line 11: may hold letters"},
    {good_currency, "\"series\": [\n", "\"series\": [\n7,", "series[0]: line 10: must be an object"},
    {good_currency, "\"confidence\": \"several\"}]", "\"confidence\": \"sure\"}]",
     "series[1].confidence: line 11: must be"},
    /* Features */
    {good_currency, "\"group\": \"g1\", ", "", "features.edge: line 13: the key 'group' is missing"},
    {good_currency, "\"source\": [\"book\",\n      \"hand\"], \"confidence\": \"several\"",
     "\"confidence\": \"several\"", "features.edge: line 13: the key 'source' is missing"},
    {good_currency, "\"tell_confidence\": \"memory\",\n", "\n", "features.edge: line 13: the key 'tell_confidence' is"},
    {good_currency, "\"tell_confidence\": \"memory\"", "\"tell_confidence\": \"sure\"",
     "features.edge.tell_confidence: line 18: must be several"},
    {good_currency, "\"confidence\": \"several\", \"tell", "\"confidence\": \"sure\", \"tell",
     "features.edge.confidence: line 18: must be several"},
    {good_currency, "\"hand\"], \"confidence\": \"several\"", "\"nose\"], \"confidence\": \"several\"",
     "features.edge.source[1]: line 18: 'nose' is not"},
    {good_currency, "\"sense\": \"feel\"", "\"sense\": \"smell\"", "features.edge.sense: line 13: must be feel"},
    {good_currency, "\"sense\": \"feel\"", "\"sense\": \"tool\"", "features.edge: line 13: sense 'tool' and a list"},
    {good_currency, "\"tools\": [\"uv_a\"]", "\"tools\": []", "features.lamp: line 21: sense 'tool' and a list"},
    {good_currency, "\"tools\": [\"uv_a\"]", "\"tools\": [\"uv_a\", \"uv_c\"]",
     "features.lamp.tools[1]: line 21: not a"},
    {good_currency, "\"tools\": [\"uv_a\"]", "\"tools\": [1]", "features.lamp.tools[0]: line 21: not a word"},
    {good_currency, "\"side\": \"front\"", "\"side\": \"edge\"", "features.edge.side: line 13: must be whole"},
    {good_currency, "\"image\"]", "\"smell\"]", "features.edge.channels[1]: line 15: not a word"},
    {good_currency, "\"image\"]", "\"not_told\"]", "features.edge.channels[1]: line 15: not a word"},
    {good_currency, "\"wear_sensitive\": true", "\"wear_sensitive\": 1",
     "features.edge.wear_sensitive: line 15: must be"},
    {good_currency, "\"hint\": \"Wear.\"", "\"hints\": \"Wear.\"",
     "features.edge.hints: line 17: this key is not known"},
    {good_currency, "\"instruction\": \"Feel it.\"",
     "\"instruction\": "
     "\"0123456789012345678901234567890123456789012345678901234567890123456789012345678901234567890123456"
     "789012345678901234567890\"",
     "features.edge.instruction: line 16: the text is too long; at most 120 bytes"},
    {good_currency, "\"lamp\": {\"feature\"", "\"\": {\"feature\"", "features.: line 21: the id of a feature"},
    {good_currency, "\"lamp\": {\"feature\"", "\"lamp\": 7, \"lump\": {\"feature\"",
     "features.lamp: line 21: must be an o"},
    /* Boxes */
    {good_currency, "\"left\": 0.25", "\"left\": -0.01",
     "features.edge.box.left: line 19: must be a number from 0 to 1"},
    {good_currency, "\"left\": 0.25", "\"left\": 1.01",
     "features.edge.box.left: line 19: must be a number from 0 to 1"},
    {good_currency, "\"left\": 0.25", "\"left\": \"0.2\"", "features.edge.box.left: line 19: must be a number from 0"},
    {good_currency, "\"left\": 0.25", "\"left\": 1", "features.edge.box: line 19: left must be smaller"},
    {good_currency, "\"bottom\": 0.5", "\"bottom\": 0", "features.edge.box: line 19: top must be smaller"},
    {good_currency, "\"top\": 0, ", "", "features.edge.box: line 19: the key 'top' is missing"},
    {good_currency, "\"top\": 0, ", "\"top\": 0, \"middle\": 0, ", "features.edge.box.middle: line 19: this key"},
    {good_currency, "\"confidence\": \"estimate\"", "\"confidence\": \"guess\"",
     "features.edge.box.confidence: line 20: m"},
    {good_currency,
     "\"box\": {\"left\": 0.25, \"top\": 0, \"right\": 1, \"bottom\": 0.5,\n      \"confidence\": "
     "\"estimate\"}",
     "\"box\": [0, 0, 1, 1]", "features.edge.box: line 19: must be an object"},
    /* Notes */
    {good_currency, "\"value_minor\": 500, \"series\": \"A\"", "\"value_minor\": 0, \"series\": \"A\"",
     "notes[0].value_minor: line 26: must be a whole number from 1"},
    {good_currency, "\"value_minor\": 500, \"series\": \"A\"", "\"value_minor\": 9007199254740993, \"series\": \"A\"",
     "notes[0].value_minor: line 26: must be a whole number from 1"},
    {good_currency, "\"series\": \"A\", \"length_mm\"", "\"series\": \"C\", \"length_mm\"",
     "notes[0].series: line 26: there is no series 'C'"},
    {good_currency, "\"series\": \"A\", \"length_mm\"", "\"series\": \"B\", \"length_mm\"",
     "notes[1]: line 29: this value and series stand twice"},
    {good_currency, "\"issued\": \"2024-02-29\"", "\"issued\": \"2023-02-29\"",
     "notes[1].issued: line 30: must be a date"},
    {good_currency, "\"length_mm\": 121, ", "", "notes[1]: line 29: the key 'length_mm' is missing"},
    {good_currency, "\"colour\": \"grey\", \"source\": [\"book\"]", "\"colour\": \"grey\", \"source\": [\"none\"]",
     "notes[0].source[0]: line 27: 'none' is not"},
    {good_currency, "\"colour\": \"grey\", \"source\": [\"book\"], \"confidence\": \"one\"",
     "\"colour\": \"grey\", \"source\": [\"book\"], \"confidence\": \"two\"",
     "notes[0].confidence: line 27: must be sev"},
    {good_currency, "[\"edge\"]", "[]", "notes[0].checks: line 28: has 0 entries; 1 to 40"},
    {good_currency, "[\"edge\"]", "[\"edge\", \"edge\"]", "notes[0].checks[1]: line 28: the check 'edge' stands twice"},
    {good_currency, "[\"edge\"]", "[\"edges\"]", "notes[0].checks[0]: line 28: there is no feature 'edges'"},
    {good_currency, "[\"edge\"]", "[1]", "notes[0].checks[0]: line 28: must be the id of a feature, or"},
    {good_currency, "{\"use\": \"edge\", ", "{", "notes[1].checks[1]: line 33: the key 'use' is missing"},
    {good_currency, "{\"use\": \"edge\", ", "{\"use\": \"edge\", \"id\": \"x\", ",
     "notes[1].checks[1].id: line 33: this k"},
    {good_currency, "\"box\": null", "\"sense\": \"tool\"", "notes[1].checks[1]: line 33: sense 'tool' and a list"},
    {good_currency, "\"box\": null", "\"box\": {}", "notes[1].checks[1].box: line 33: the key 'left' is missing"},
    {good_currency, "\"channels\": [\"size\"]", "\"channels\": [\"taste\"]",
     "notes[1].checks[1].channels[0]: line 34: n"},
    /* Serial numbers */
    {good_currency, "{\"series\": \"B\", \"form\"", "{\"series\": \"X\", \"form\"",
     "serials[0].series: line 36: there is"},
    {good_currency, "\"LLDD\"", "\"LLDX\"", "serials[0].form: line 36: may hold L for a letter"},
    {good_currency, "\"hint\": \"back\",\n", "\"hunt\": \"back\",\n",
     "serials[0].hunt: line 36: this key is not known"},
    {good_currency, "\"confidence\": \"one\", \"prefix_means\": \"works\"", "\"confidence\": \"one\"",
     "serials[0]: line 36: prefixes and prefix_means belong together"},
    {good_currency, "\"source\": [\"book\"], \"confidence\": \"one\", \"prefix_means\"",
     "\"source\": [\"bok\"], \"confidence\": \"one\", \"prefix_means\"", "serials[0].source[0]: line 37: 'bok' is not"},
    {good_currency, "\"confidence\": \"one\", \"prefix_means\"", "\"confidence\": \"on\", \"prefix_means\"",
     "serials[0].confidence: line 37: must be several"},
    {good_currency, "\"confidence\": \"one\", \"names\": {\"AB\"", "\"confidence\": \"on\", \"names\": {\"AB\"",
     "serials[0].prefixes[0].confidence: line 38: must be several"},
    {good_currency, "[{\"source\": [\"book\"], \"confidence\": \"one\", \"names\"",
     "[{\"source\": [\"boo\"], \"confidence\": \"one\", \"names\"", "serials[0].prefixes[0].source[0]: line 38: 'boo'"},
    {good_currency, "\"C\": \"second\"", "\"C\": 2", "serials[0].prefixes[0].names.C: line 39: must be a text"},
    {good_currency, "\"D\": \"third\"", "\"C\": \"third\"",
     "serials[0].prefixes[1].names.C: line 41: this prefix stands"},
    {good_currency, "\"kept_free\": true", "\"kept_free\": \"yes\"",
     "serials[0].prefixes[1].kept_free: line 40: must be"},
    {good_currency, "\"remainder\": 3", "\"remainder\": 7", "serials[0].checksum.remainder: line 42: must be smaller"},
    {good_currency, "\"modulus\": 7", "\"modulus\": 1",
     "serials[0].checksum.modulus: line 42: must be a whole number f"},
    {good_currency, "\"source\": [\"book\"], \"confidence\": \"one\"}},\n", "\"confidence\": \"one\"}},\n",
     "serials[0].checksum: line 42: the key 'source' is missing"},
    {good_currency, "\"source\": [\"book\"], \"confidence\": \"one\"}},\n",
     "\"source\": [\"bo\"], \"confidence\": \"one\"}},\n", "serials[0].checksum.source[0]: line 43: 'bo' is not"},
    {good_currency, "\"source\": [\"book\"], \"confidence\": \"one\"}},\n",
     "\"source\": [\"book\"], \"confidence\": \"1\"}},\n", "serials[0].checksum.confidence: line 43: must be"},
    /* Yearly figures */
    {good_currency, "\"year\": 2023", "\"year\": 2024", "base_rates[1].year: line 48: the newest year must come first"},
    {good_currency, "\"withdrawn\": 9, ", "", "base_rates[1]: line 48: the key 'withdrawn' is missing"},
    {good_currency, "\"withdrawn\": 9, \"source\": [\"book\"]", "\"withdrawn\": 9, \"source\": [\"b\"]",
     "base_rates[1].source[0]: line 48: 'b' is not"},
    {good_currency, "\"confidence\": \"one\", \"shares\"", "\"confidence\": \"many\", \"shares\"",
     "base_rates[0].confidence: line 47: must be"},
    {good_currency, "\"permille\": 1000", "\"permille\": 1001", "base_rates[0].shares[0].permille: line 47: must be a"},
    /* Jurisdictions */
    {good_jurisdiction, "\"id\": \"XX\"", "\"id\": \"X X\"", "id: line 2: may hold letters"},
    {good_jurisdiction, "\"as_of\": \"2026-01-31\"", "\"as_of\": \"2026-01-32\"", "as_of: line 4: must be a date"},
    {good_jurisdiction, "\"law\"]", "\"lore\"]", "source[0]: line 5: 'lore' is not"},
    {good_jurisdiction, "\"confidence\": \"one\"", "\"confidence\": \"none\"", "confidence: line 5: must be several"},
    {good_jurisdiction, "\"abandoned\"]", "\"arrest\"]", "dispositions[2]: line 7: must be taken"},
    {good_jurisdiction, "\"abandoned\"]", "\"abandoned\", \"taken\", \"taken\"]",
     "dispositions: line 6: has 5 entries"},
    {good_jurisdiction, "\"abandoned\"]", "\"none\"]", "dispositions[2]: line 7: must be taken"},
    {good_jurisdiction, "\"abandoned\"]", "4]", "dispositions[2]: line 7: must be taken"},
    {good_jurisdiction, "\"abandoned\"]", "\"set_aside\"]", "dispositions[2]: line 7: stands twice"},
    {good_jurisdiction, "\"abandoned\"]", "\"taken\"]", "dispositions: line 6: not_taken and abandoned must be"},
    {good_jurisdiction, "\"never\": \"e\", ", "", "top level: line 1: the key 'never' is missing"},
    {good_jurisdiction, "\"deadline\": \"h\"", "\"law\": []", "top level: line 1: the key 'deadline' is missing"},
    {good_jurisdiction, "\"never\": \"e\"", "\"never\": 5", "never: line 9: must be a text"},
    {good_jurisdiction, "\"never\": \"e\"", "\"never\": \"{value}\"", "never: line 9: not a message pattern; after 7"},
    {good_jurisdiction, "\"never\": \"e\"", "\"never\": {\"text\": \"e\"}",
     "never: line 9: the key 'source' is missing"},
    {good_jurisdiction, "\"never\": \"e\"",
     "\"never\": {\"text\": \"}\", \"source\": [\"law\"], \"confidence\": \"one\"}",
     "never: line 9: not a message pattern; after 0"},
    {good_jurisdiction, "\"never\": \"e\"",
     "\"never\": {\"text\": \"e\", \"source\": [\"lore\"], \"confidence\": \"one\"}",
     "never.source[0]: line 9: 'lore' is not"},
    {good_jurisdiction, "\"never\": \"e\"",
     "\"never\": {\"text\": \"e\", \"source\": [\"law\"], \"confidence\": \"1\"}",
     "never.confidence: line 9: must be several"},
    {good_jurisdiction, "\"deadline\": \"h\"", "\"deadline\": \"h\", \"law\": [\"a\"]",
     "law[0]: line 9: must be an object"},
    {good_jurisdiction, "\"law\": \"a law\"", "\"law\": []", "sources.law: line 10: must be a text"},
    {good_jurisdiction, "2026-02-28", "2026-02-30", "reviewed: line 3: must be a date"},
    /* Until when a note is money, what a check needs, patterns, stars */
    {good_currency, "\"status\": \"ended\"", "\"status\": \"ended\", \"tender_until\": \"2022-02-30\"",
     "series[1].tender_until: line 11: must be a date"},
    {good_currency, "\"status\": \"ended\"", "\"status\": \"ended\", \"after_tender\": \"{when}\"",
     "series[1].after_tender: line 11: not a message pattern; after 6 bytes: nothing has this name"},
    {good_currency, "\"status\": \"new\"", "\"after_tender\": \"Ask a bank.\"",
     "notes[1]: line 29: after_tender needs tender_until"},
    {good_currency, "\"status\": \"new\"", "\"tender_until\": \"2026-01-1a\"",
     "notes[1].tender_until: line 30: must be a date"},
    {good_currency, "\"wear_sensitive\": true", "\"needs\": [\"hands\"]",
     "features.edge.needs[0]: line 15: not a word that is known"},
    {good_currency, "\"wear_sensitive\": true", "\"ends\": 1", "features.edge.ends: line 15: must be true or false"},
    {good_currency, "Feel it.", "Feel {it}.", "features.edge.instruction: line 16: not a message pattern"},
    {good_currency, "Two gaps.", "Two {gaps.", "notes[1].checks[1].genuine: line 33: not a message pattern"},
    {good_currency, "LLDD", "LLDd", "serials[0].form: line 36: may hold L"},
    {good_currency, "\"form\": \"DDD\"", "\"form\": \"DDD\", \"letters_not_used\": \"i\"",
     "serials[1].letters_not_used: line 44: may hold capital"},
    /* Messages */
    {good_messages, "false", "true", "native_review: line 3: must be false, or the day"},
    {good_messages, "false", "\"2026-02-30\"", "native_review: line 3: must be a date"},
    {good_messages, "\"native_review\": false,", "", "top level: line 1: the key 'native_review' is missing"},
    {good_messages, "\"language\": \"en\"", "\"language\": \"e n\"", "language: line 2: may hold letters"},
    {good_messages, "Take care.", "Take {care}.", "messages.caution: line 4: not a message pattern; after 11"},
    {good_messages, "\"messages\": {\"caution\": \"Take care.\",\n  \"other\": \"Other.\"}", "\"x\": 1",
     "x: line 4: this key"},
    {good_messages, ",\n\"messages\": {\"caution\": \"Take care.\",\n  \"other\": \"Other.\"}", "",
     "top level: line 1: messages or texts must be there"},
    {good_messages, "\"messages\": {", "\"texts\": [{\"en\": \"a\"}], \"messages\": {",
     "texts[0]: line 4: the key 'to' is missing"},
    {good_messages, "\"messages\": {", "\"texts\": [{\"en\": \"{a}\", \"to\": \"b\"}], \"messages\": {",
     "texts[0]: line 4: not a message pattern"},
    {good_messages, "\"messages\": {", "\"texts\": [{\"en\": \"a\", \"to\": \"}\"}], \"messages\": {",
     "texts[0]: line 4: not a message pattern"},
    {good_messages, "\"messages\": {", "\"texts\": [{\"en\": \"a {value}\", \"to\": \"b\"}], \"messages\": {",
     "texts[0].to: line 4: must have the same names"},
    {good_messages, "\"messages\": {",
     "\"texts\": [{\"en\": \"a\", \"to\": \"b\"}, {\"en\": \"a\", \"to\": \"c\"}], \"messages\": {",
     "texts: line 4: the English text 'a' stands twice"},
    {good_messages, "\"id\": \"shop\"", "\"id\": \"a/b\"", "id: line 2: may hold letters"},
    {good_messages, "\"other\": \"Other.\"", "\"other\": 5", "messages.other: line 5: must be a text"},
    {good_messages, "\"language\": \"en\",", "", "top level: line 1: the key 'language' is missing"},
    {good_messages, "\"messages\": {\"caution\": \"Take care.\",\n  \"other\": \"Other.\"}", "\"messages\": {}",
     "messages: line 4: has 0 entries"},
};

static void fault_check(const struct fault *fault)
{
    char *text = text_spoil(fault->base, fault->from, fault->to);
    assert_non_null(text);
    struct pack *pack;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = parse(text, &pack, &error);
    char expected[256];
    snprintf(expected, sizeof expected, "test.json: %s", fault->begins);
    if (strncmp(error.text, expected, strlen(expected)) != 0)
        print_error("expected '%s', got '%s'\n", expected, error.text);
    assert_int_equal(result, strncmp(fault->begins, "line", 4) == 0 ? CFOIL_E_DATA_SYNTAX : CFOIL_E_DATA_SCHEMA);
    assert_int_equal(strncmp(error.text, expected, strlen(expected)), 0);
    assert_int_equal(error.result, result);
    char line[32];
    snprintf(line, sizeof line, "line %d: ", (int)error.line);
    assert_non_null(strstr(error.text, line));
    assert_string_equal(error.area, "packs");
    assert_null(pack);
    /* And without anybody to tell. */
    assert_int_equal(parse(text, &pack, NULL), result);
    free(text);
}

static void every_fault_is_told_with_path_and_line(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++)
        fault_check(&faults[i]);
}

static void empty_and_large_texts_are_refused(void **state)
{
    (void)state;
    struct pack *pack;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(pack_parse(&memory_heap, "a.json", "", 0, &pack, &error), CFOIL_E_DATA_SYNTAX);
    assert_string_equal(error.text, "a.json: line 1: the file is empty");
    assert_int_equal(error.line, 1);
    char *text = malloc(PACK_SIZE_MAX + 1);
    assert_non_null(text);
    memset(text, ' ', PACK_SIZE_MAX + 1);
    assert_int_equal(pack_parse(&memory_heap, "a.json", text, PACK_SIZE_MAX + 1, &pack, &error), CFOIL_E_DATA_SIZE);
    assert_int_equal(pack_parse(&memory_heap, "a.json", text, PACK_SIZE_MAX, &pack, &error), CFOIL_E_DATA_SYNTAX);
    free(text);
}

static void of_a_long_file_name_the_end_is_told(void **state)
{
    (void)state;
    struct pack *pack;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    static const char long_path[] = "/a/very/long/way/to/the/folder/in/which/somebody/has/put/a/pack/of/their/own.json";
    assert_int_equal(pack_parse(&memory_heap, long_path, "{}", 2, &pack, &error), CFOIL_E_DATA_SCHEMA);
    assert_string_equal(error.text, "own.json: top level: line 1: the key 'schema' is missing");
    static const char no_slash[] = "a-very-long-name-of-a-file-without-any-folder-that-nobody-would-give.json";
    assert_int_equal(pack_parse(&memory_heap, no_slash, "{}", 2, &pack, &error), CFOIL_E_DATA_SCHEMA);
    assert_int_equal(strncmp(error.text, no_slash, strlen(no_slash)), 0);
}

/* ---- What good packs are read as ---- */

static void a_currency_is_read(void **state)
{
    (void)state;
    struct pack *pack;
    assert_int_equal(parse(good_currency, &pack, NULL), CFOIL_OK);
    assert_int_equal(pack->kind, PACK_CURRENCY);
    assert_string_equal(pack->id, "XTS");
    assert_string_equal(pack->version, "7");
    assert_string_equal(pack->reviewed, "2026-02-28");
    const struct pack_currency *currency = &pack->as.currency;
    assert_int_equal(pack_currency_decimals(currency), 2);
    assert_string_equal(pack_series_find(currency, "A")->status, "ended");
    assert_int_equal(pack_series_find(currency, "A")->confidence, CONFIDENCE_SEVERAL);
    assert_null(pack_series_find(currency, "C"));
    assert_null(pack_series_find(currency, NULL));

    const struct pack_note *old = pack_note_find(currency, 500, "A");
    assert_int_equal(old->length_mm, 120);
    assert_int_equal(old->height_mm, 62);
    assert_string_equal(old->issued, "");
    assert_string_equal(old->status, "");
    assert_int_equal(old->check_count, 1);
    const struct pack_check *edge = &old->checks[0];
    assert_string_equal(edge->id, "edge");
    assert_int_equal(edge->sense, CFOIL_SENSE_FEEL);
    assert_int_equal(edge->side, 1);
    assert_int_equal(edge->tool, 0);
    assert_int_equal(edge->channels, 1u << CFOIL_CHANNEL_INFRARED | 1u << CFOIL_CHANNEL_IMAGE);
    assert_true(edge->wear_sensitive);
    assert_string_equal(edge->source, "a book; a hand");
    assert_int_equal(edge->confidence, CONFIDENCE_SEVERAL);
    assert_int_equal(edge->tell_confidence, CONFIDENCE_MEMORY);
    assert_true(edge->box.known);
    assert_int_equal(edge->box.left_permille, 250);
    assert_int_equal(edge->box.top_permille, 0);
    assert_int_equal(edge->box.right_permille, 1000);
    assert_int_equal(edge->box.bottom_permille, 500);
    assert_int_equal(edge->box.confidence, CONFIDENCE_ESTIMATE);

    /* No series named: the first of the list that has the value. */
    const struct pack_note *note = pack_note_find(currency, 500, NULL);
    assert_string_equal(note->series, "B");
    assert_string_equal(note->issued, "2024-02-29");
    assert_string_equal(note->style, "s");
    assert_null(pack_note_find(currency, 700, NULL));
    assert_null(pack_note_find(currency, 500, "C"));
    assert_string_equal(note->checks[0].hint, "");
    assert_int_equal(note->checks[0].tool, CFOIL_TOOL_UV_A);
    assert_false(note->checks[0].box.known);
    pack_release(pack);
}

static void a_note_says_what_differs(void **state)
{
    (void)state;
    struct pack *pack;
    assert_int_equal(parse(good_currency, &pack, NULL), CFOIL_OK);
    const struct pack_note *note = pack_note_find(&pack->as.currency, 500, "B");
    const struct pack_check *edge = &note->checks[1];
    assert_string_equal(edge->id, "edge");
    assert_string_equal(edge->genuine, "Two gaps.");
    assert_string_equal(edge->tell, "Flat.");
    assert_string_equal(edge->hint, "Wear.");
    assert_string_equal(edge->source, "a hand");
    assert_int_equal(edge->confidence, CONFIDENCE_MEMORY);
    assert_int_equal(edge->channels, 1u << CFOIL_CHANNEL_SIZE);
    assert_false(edge->wear_sensitive);
    assert_false(edge->box.known);
    /* The feature itself has not changed. */
    assert_true(pack_note_find(&pack->as.currency, 500, "A")->checks[0].box.known);
    pack_release(pack);
}

static void yearly_figures_are_read(void **state)
{
    (void)state;
    struct pack *pack;
    assert_int_equal(parse(good_currency, &pack, NULL), CFOIL_OK);
    uint32_t count;
    const struct pack_rate *rates = pack_currency_rates(&pack->as.currency, &count);
    assert_int_equal(count, 2);
    assert_int_equal(rates[0].year, 2024);
    assert_int_equal(rates[0].per_million, 2);
    assert_int_equal(rates[0].share_count, 1);
    assert_int_equal(rates[0].shares[0].permille, 1000);
    assert_int_equal(rates[1].per_million, 0);
    assert_int_equal(rates[1].share_count, 0);
    assert_string_equal(rates[1].source, "a book");
    pack_release(pack);
}

static void serial_numbers_are_optional(void **state)
{
    (void)state;
    char *text = text_spoil(good_currency, "\"serials\": [\n", "\"serials\": [],\n\"base_rates\": [], \"x\": [\n");
    char *cut = strstr(text, ", \"x\"");
    strcpy(cut, "}");
    struct pack *pack;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(parse(text, &pack, &error), CFOIL_OK);
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    serial_check(&pack->as.currency, "ab12", &serial);
    assert_string_equal(serial.normalised, "AB12");
    assert_int_equal(serial.format_known, 0);
    assert_non_null(strstr(serial.text, "not known here"));
    uint32_t count;
    pack_currency_rates(&pack->as.currency, &count);
    assert_int_equal(count, 0);
    pack_release(pack);
    free(text);
}

static void unusual_but_good_values_pass(void **state)
{
    (void)state;
    static const char *const changes[][2] = {
        {"2026-02-28", "2000-02-29"},           {"\"decimals\": 2", "\"decimals\": 2.0"},
        {"\"decimals\": 2", "\"decimals\": 0"}, {"\"decimals\": 2", "\"decimals\": 40e-1"},
        {"\"left\": 0.25", "\"left\": 2.5E-1"}, {"\"version\": \"7\"", "\"version\": \"v 7 \xC3\xA9\""},
    };
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
        char *text = text_spoil(good_currency, changes[i][0], changes[i][1]);
        struct pack *pack;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        if (parse(text, &pack, &error) != CFOIL_OK)
            print_error("%s\n", error.text);
        assert_non_null(pack);
        pack_release(pack);
        free(text);
    }
    char *text = text_spoil(good_messages, "\"shop\"", "\"a-Z.09\"");
    struct pack *pack;
    assert_int_equal(parse(text, &pack, NULL), CFOIL_OK);
    pack_release(pack);
    free(text);
}

static void a_jurisdiction_is_read(void **state)
{
    (void)state;
    struct pack *pack;
    assert_int_equal(parse(good_jurisdiction, &pack, NULL), CFOIL_OK);
    const struct pack_jurisdiction *jurisdiction = &pack->as.jurisdiction;
    assert_int_equal(jurisdiction->first_disposition, CFOIL_DISPOSITION_SET_ASIDE);
    assert_int_equal(jurisdiction->dispositions, 1u << CFOIL_DISPOSITION_SET_ASIDE | 1u << CFOIL_DISPOSITION_NOT_TAKEN |
                                                     1u << CFOIL_DISPOSITION_ABANDONED);
    assert_string_equal(jurisdiction->source, "a law");
    assert_string_equal(jurisdiction->date, "2026-01-31");
    assert_string_equal(jurisdiction->caution.text, "f");
    pack_release(pack);
}

static void a_jurisdiction_text_may_have_its_own_source(void **state)
{
    (void)state;
    char *text = text_spoil(good_jurisdiction, "\"never\": \"e\"",
                            "\"law\": [{\"text\": \"l\", \"source\": [\"law\"], \"confidence\": \"derived\"}], "
                            "\"never\": {\"text\": \"e\", \"source\": [\"law\"], \"confidence\": \"memory\"}");
    struct pack *pack;
    assert_int_equal(parse(text, &pack, NULL), CFOIL_OK);
    const struct pack_jurisdiction *jurisdiction = &pack->as.jurisdiction;
    assert_string_equal(jurisdiction->never.text, "e");
    assert_int_equal(jurisdiction->never.confidence, CONFIDENCE_MEMORY);
    assert_int_equal(jurisdiction->caution.confidence, CONFIDENCE_ONE);
    assert_string_equal(jurisdiction->caution.source, "a law");
    assert_string_equal(jurisdiction->found_later.text, "g");
    assert_string_equal(jurisdiction->deadline.text, "h");
    assert_int_equal(jurisdiction->law_count, 1);
    assert_int_equal(jurisdiction->law[0].confidence, CONFIDENCE_DERIVED);
    pack_release(pack);
    free(text);
}

/* The note's own day and text stand before those of its series. */
static void a_note_ends_as_money(void **state)
{
    (void)state;
    char *series = text_spoil(
        good_currency, "\"status\": \"ended\"",
        "\"status\": \"ended\", \"tender_until\": \"2022-09-30\", \"after_tender\": \"Ask a bank.\"");
    char *text = text_spoil(series, "\"status\": \"new\"", "\"tender_until\": \"2030-12-31\"");
    struct pack *pack;
    assert_int_equal(parse(text, &pack, NULL), CFOIL_OK);
    const struct pack_note *note = pack_note_find(&pack->as.currency, 500, "A");
    assert_string_equal(note->tender_until, "2022-09-30");
    assert_string_equal(note->after_tender, "Ask a bank.");
    note = pack_note_find(&pack->as.currency, 500, "B");
    assert_string_equal(note->tender_until, "2030-12-31");
    assert_string_equal(note->after_tender, "");
    pack_release(pack);
    free(text);
    free(series);
}

static void a_check_says_what_it_needs(void **state)
{
    (void)state;
    char *text = text_spoil(good_currency, "\"wear_sensitive\": true",
                            "\"ends\": true, \"needs\": [\"back_light\", \"both_hands\", \"colour_vision\"]");
    struct pack *pack;
    assert_int_equal(parse(text, &pack, NULL), CFOIL_OK);
    const struct pack_check *check = pack_note_find(&pack->as.currency, 500, "A")->checks;
    assert_int_equal(check->needs, CFOIL_WITHOUT_BACK_LIGHT | CFOIL_WITHOUT_BOTH_HANDS | CFOIL_WITHOUT_COLOUR_VISION);
    assert_true(check->ends);
    pack_release(pack);
    free(text);
}

static void serial_numbers_may_have_a_star(void **state)
{
    (void)state;
    char *text = text_spoil(good_currency, "\"form\": \"DDD\"", "\"form\": \"LDD*\", \"letters_not_used\": \"IO\"");
    struct pack *pack;
    assert_int_equal(parse(text, &pack, NULL), CFOIL_OK);
    static const struct {
        const char *serial;
        int known;
    } rows[] = {{"a12*", 1}, {"A12 \xE2\x98\x85", 1}, {"A12", 0}, {"A12X", 0}, {"I12*", 0}, {"O12*", 0}, {"*12*", 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cfoil_serial serial = CFOIL_SERIAL_INIT;
        serial_check(&pack->as.currency, rows[i].serial, &serial);
        assert_int_equal(serial.format_known, rows[i].known);
        if (rows[i].known)
            assert_string_equal(serial.normalised, "A12*");
    }
    pack_release(pack);
    free(text);
}

static void a_value_is_written_in_whole_units(void **state)
{
    (void)state;
    struct pack *pack;
    char value[32];
    assert_int_equal(parse(good_currency, &pack, NULL), CFOIL_OK);
    pack_value_write(&pack->as.currency, 5000, value, sizeof value);
    assert_string_equal(value, "50");
    pack_value_write(&pack->as.currency, 250, value, sizeof value);
    assert_string_equal(value, "2.50");
    pack_release(pack);
}

static void confidence_has_a_name(void **state)
{
    (void)state;
    assert_string_equal(confidence_name(CONFIDENCE_SEVERAL), "two or more sources");
    assert_string_equal(confidence_name(CONFIDENCE_MEMORY), "from memory");
    assert_string_equal(confidence_word(CONFIDENCE_MEMORY), "memory");
    assert_string_equal(confidence_word((enum confidence)0), "unknown");
    assert_string_equal(confidence_word((enum confidence)7), "unknown");
    assert_string_equal(confidence_name((enum confidence)0), "unknown");
    assert_string_equal(confidence_name((enum confidence)7), "unknown");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_fault_is_told_with_path_and_line),
        cmocka_unit_test(empty_and_large_texts_are_refused),
        cmocka_unit_test(of_a_long_file_name_the_end_is_told),
        cmocka_unit_test(a_currency_is_read),
        cmocka_unit_test(a_note_says_what_differs),
        cmocka_unit_test(yearly_figures_are_read),
        cmocka_unit_test(serial_numbers_are_optional),
        cmocka_unit_test(unusual_but_good_values_pass),
        cmocka_unit_test(a_jurisdiction_is_read),
        cmocka_unit_test(a_jurisdiction_text_may_have_its_own_source),
        cmocka_unit_test(a_note_ends_as_money),
        cmocka_unit_test(a_check_says_what_it_needs),
        cmocka_unit_test(serial_numbers_may_have_a_star),
        cmocka_unit_test(a_value_is_written_in_whole_units),
        cmocka_unit_test(confidence_has_a_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
