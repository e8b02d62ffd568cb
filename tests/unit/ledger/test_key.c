/*
 * The store's keys: made at their first use, checked strictly, changed without losing what an older one sealed, never
 * replaced by themselves.
 */
#include "world.h"

#include "ledger/append.h"
#include "ledger/body.h"
#include "ledger/hex.h"
#include "ledger/key.h"
#include "ledger/signed_place.h"

#include <errno.h>
#include <fcntl.h>
#include <sodium/crypto_sign.h>
#include <sys/wait.h>

#define SECRET "the words that nobody else may read"
enum { PLAIN = sizeof SECRET, SEALED = PLAIN + KEY_SEALED_EXTRA };

struct sealed {
    const char *context;
    uint8_t nonce[KEY_NONCE_SIZE];
    uint8_t bytes[SEALED];
};

static int32_t seal_run(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    struct sealed *sealed = user;
    return key_seal(ledger, sealed->context, (const uint8_t *)SECRET, PLAIN, sealed->nonce, sealed->bytes, error);
}

static int32_t seal(struct world *world, struct sealed *sealed)
{
    sealed->context = "case 1";
    memset(&world->error, 0, sizeof world->error);
    return ledger_transact(world->ledger, seal_run, sealed, &world->error);
}

static int32_t open_sealed(struct world *world, const struct sealed *sealed)
{
    uint8_t plain[PLAIN];
    memset(&world->error, 0, sizeof world->error);
    int32_t result = key_open(world->ledger, sealed->context, sealed->nonce, sealed->bytes, SEALED, plain,
                              &world->error);
    if (result == CFOIL_OK)
        assert_memory_equal(plain, SECRET, PLAIN);
    return result;
}

static int32_t change(struct world *world, struct signed_receipt *receipt)
{
    struct actor actor = {"01", false};
    memset(&world->error, 0, sizeof world->error);
    return key_change(world->ledger, &actor, receipt, &world->error);
}

/* ---- The key file as other hands see it ---- */

struct text {
    char bytes[8000];
    size_t length;
};

static const char *key_path(const struct world *world)
{
    static char path[320];
    snprintf(path, sizeof path, "%s.key", world->path);
    return path;
}

static void key_text_read(const struct world *world, struct text *text)
{
    FILE *file = fopen(key_path(world), "rb");
    assert_non_null(file);
    text->length = fread(text->bytes, 1, sizeof text->bytes - 1, file);
    text->bytes[text->length] = '\0';
    fclose(file);
}

static void key_text_write(const struct world *world, const struct text *text)
{
    FILE *file = fopen(key_path(world), "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(text->bytes, 1, text->length, file), text->length);
    fclose(file);
    assert_int_equal(chmod(key_path(world), 0600), 0);
}

static int count_of(const char *text, const char *what)
{
    int count = 0;
    for (const char *at = text; (at = strstr(at, what)) != NULL; at++)
        count++;
    return count;
}

/* ---- First use ---- */

static void the_first_use_makes_the_key_and_says_so(void **state)
{
    (void)state;
    struct world world;
    struct sealed sealed;
    struct stat status;
    world_open(&world);
    world_fill(&world, 3);
    assert_int_not_equal(access(key_path(&world), F_OK), 0);
    assert_int_equal(seal(&world, &sealed), CFOIL_OK);
    assert_int_equal(stat(key_path(&world), &status), 0);
    assert_int_equal(status.st_mode & 07777, 0600);
    assert_int_equal(world_query(&world, "SELECT number FROM entry WHERE kind = 'key'"), 4);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM key WHERE until_utc_ms = 0"), 2);
    assert_int_equal(world_query(&world, "SELECT length(public_key) FROM key WHERE kind = 'signing'"), 32);
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_OK);
    assert_int_equal(seal(&world, &sealed), CFOIL_OK); /* the second use makes none */
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry"), 4);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

static void what_is_not_committed_makes_no_second_key(void **state)
{
    (void)state;
    struct world world;
    struct sealed sealed;
    struct text first;
    struct text second;
    world_open(&world);
    assert_int_equal(seal(&world, &sealed), CFOIL_OK);
    key_text_read(&world, &first);
    /* The same moment before the entry stood: the file is there, the ledger knows nothing of it. */
    world_unlock_entries(&world);
    world_tamper(&world, "DELETE FROM entry WHERE number = 2; DELETE FROM key;"
                         "UPDATE head SET number = 1, entries = 1, hash = (SELECT hash FROM entry WHERE number = 1)");
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_OK);
    assert_int_equal(seal(&world, &sealed), CFOIL_OK);
    key_text_read(&world, &second);
    assert_string_equal(first.bytes, second.bytes);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry WHERE kind = 'key'"), 1);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

static void several_processes_make_one_key(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    ledger_release(world.ledger);
    world.ledger = NULL;
    for (int i = 0; i < 4; i++) {
        pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0) {
            struct sealed sealed;
            bool good = world_try(&world, &memory_heap, 0) == CFOIL_OK && seal(&world, &sealed) == CFOIL_OK &&
                        open_sealed(&world, &sealed) == CFOIL_OK;
            _exit(good ? 0 : 1);
        }
    }
    for (int i = 0; i < 4; i++) {
        int status;
        assert_true(wait(&status) > 0);
        assert_int_equal(status, 0);
    }
    world_reopen(&world);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry WHERE kind = 'key'"), 1);
    world_close(&world);
}

/* ---- Signatures ---- */

/* The body of an entry as another program would check it, from the page docs/ledger.md. */
static void key_entry_check(struct world *world, int64_t number, bool second)
{
    char *text;
    uint8_t message[SIGNED_CHANGE_SIZE];
    uint8_t signature[64];
    uint8_t box[32];
    uint8_t own[32];
    uint8_t before[32];
    struct signed_place place = {.number = number - 1};
    char sql[100];
    assert_int_equal(ledger_entry_text(world->ledger, number, &text, NULL), CFOIL_OK);
    cJSON *entry = cJSON_Parse(text);
    const cJSON *body = cJSON_GetObjectItem(entry, "body");
    assert_true(hex_read(entry, "previous", place.hash, 32));
    assert_true(hex_read(body, "hash", box, 32));
    assert_memory_equal(box, place.hash, 32);
    assert_true(hex_read(body, "signing_public", own, 32));
    assert_true(hex_read(body, "box_check", box, 32));
    snprintf(sql, sizeof sql, "SELECT time_utc_ms FROM entry WHERE number = %lld", (long long)number);
    place.time_utc_ms = world_query(world, sql);
    bool replaces = hex_read(body, "replaces", before, 32);
    assert_true(replaces == second);
    signed_change_bytes(&place, own, box, replaces ? before : NULL, second ? "01" : NULL, message);
    assert_true(hex_read(body, "signature", signature, 64));
    assert_int_equal(crypto_sign_verify_detached(signature, message, sizeof message, own), 0);
    assert_true(hex_read(body, "signature_before", signature, 64) == second);
    if (second)
        assert_int_equal(crypto_sign_verify_detached(signature, message, sizeof message, before), 0);
    message[sizeof message - 1] ^= 1;
    assert_int_not_equal(crypto_sign_verify_detached(signature, message, sizeof message, second ? before : own), 0);
    cJSON_Delete(entry);
    cJSON_free(text);
}

static void a_new_key_is_signed_by_both_and_the_old_one_still_opens(void **state)
{
    (void)state;
    struct world world;
    struct sealed old;
    struct sealed young;
    struct text before;
    struct text after;
    struct signed_receipt receipt;
    world_open(&world);
    assert_int_equal(seal(&world, &old), CFOIL_OK);
    key_text_read(&world, &before);
    assert_int_equal(change(&world, &receipt), CFOIL_OK);
    assert_int_equal(receipt.entry.number, 3);
    assert_int_equal(seal(&world, &young), CFOIL_OK);
    assert_memory_not_equal(old.bytes, young.bytes, 8);
    assert_int_equal(open_sealed(&world, &old), CFOIL_OK);
    assert_int_equal(open_sealed(&world, &young), CFOIL_OK);
    key_entry_check(&world, 2, false);
    key_entry_check(&world, 3, true);
    key_text_read(&world, &after);
    assert_int_equal(count_of(after.bytes, "\"signing_secret\":null"), 1); /* the old one signs no more */
    assert_int_equal(count_of(after.bytes, "signing_public"), 2);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM key WHERE kind = 'signing' AND until_utc_ms = 0"), 1);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM key"), 4);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

/* The file with both secrets: as it stands while a change is under way. */
static void both_make(const struct text *before, const struct text *after, struct text *both)
{
    char secret[67];
    const char *from = strstr(before->bytes, "\"signing_secret\":") + 17;
    memcpy(secret, from, 66);
    secret[66] = '\0';
    const char *at = strstr(after->bytes, "null");
    int length = snprintf(both->bytes, sizeof both->bytes, "%.*s%s%s", (int)(at - after->bytes), after->bytes, secret,
                          at + 4);
    both->length = (size_t)length;
}

/* After the entry stood, before the old secret went. */
static void a_change_cut_off_after_its_entry_is_finished_by_the_next(void **state)
{
    (void)state;
    struct world world;
    struct sealed old;
    struct text before;
    struct text after;
    struct text both;
    world_open(&world);
    assert_int_equal(seal(&world, &old), CFOIL_OK);
    key_text_read(&world, &before);
    assert_int_equal(change(&world, NULL), CFOIL_OK);
    key_text_read(&world, &after);
    both_make(&before, &after, &both);
    key_text_write(&world, &both);
    assert_int_equal(change(&world, NULL), CFOIL_OK);
    key_text_read(&world, &after);
    assert_int_equal(count_of(after.bytes, "\"signing_secret\":null"), 2);
    assert_int_equal(count_of(after.bytes, "signing_public"), 3);
    assert_int_equal(open_sealed(&world, &old), CFOIL_OK);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

/* Both keys are in the file, the ledger knows the first only. */
static void a_change_cut_off_before_its_entry_leaves_the_old_key(void **state)
{
    (void)state;
    struct world world;
    struct sealed old;
    struct sealed again;
    struct text before;
    struct text after;
    struct text both;
    char sql[400];
    world_open(&world);
    assert_int_equal(seal(&world, &old), CFOIL_OK);
    key_text_read(&world, &before);
    snprintf(sql, sizeof sql, "VACUUM INTO '%s/earlier'", world.folder);
    world_tamper(&world, sql);
    assert_int_equal(change(&world, NULL), CFOIL_OK);
    key_text_read(&world, &after);
    both_make(&before, &after, &both);
    snprintf(world.path, sizeof world.path, "%s/earlier", world.folder);
    assert_int_equal(chmod(world.path, 0600), 0);
    key_text_write(&world, &both);
    world_reopen(&world);
    assert_int_equal(seal(&world, &again), CFOIL_OK);
    assert_memory_equal(again.bytes, old.bytes, 8);
    assert_int_equal(change(&world, NULL), CFOIL_OK);
    key_text_read(&world, &after);
    assert_int_equal(count_of(after.bytes, "signing_public"), 2);
    assert_int_equal(open_sealed(&world, &old), CFOIL_OK);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

/* ---- Wrong and missing key files ---- */

static void a_missing_key_file_is_told_and_never_replaced(void **state)
{
    (void)state;
    struct world world;
    struct sealed sealed;
    struct sealed another;
    struct text text;
    world_open(&world);
    assert_int_equal(seal(&world, &sealed), CFOIL_OK);
    key_text_read(&world, &text);
    assert_int_equal(unlink(key_path(&world)), 0);
    assert_int_equal(seal(&world, &another), CFOIL_E_LEDGER_KEY_MISSING);
    assert_non_null(strstr(world.error.text, "put it back"));
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_E_LEDGER_KEY_MISSING);
    assert_int_equal(change(&world, NULL), CFOIL_E_LEDGER_KEY_MISSING);
    assert_int_not_equal(access(key_path(&world), F_OK), 0);
    assert_int_equal(world_append(&world, item_make(LEDGER_KIND_DEVICE, "{}"), NULL), CFOIL_OK);
    world_reopen(&world);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry"), 3);
    key_text_write(&world, &text);
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_OK);
    world_close(&world);
}

static void another_ledgers_key_file_is_refused(void **state)
{
    (void)state;
    struct world world;
    struct world other;
    struct sealed sealed;
    struct sealed foreign;
    struct text text;
    world_open(&world);
    world_open(&other);
    assert_int_equal(seal(&world, &sealed), CFOIL_OK);
    assert_int_equal(seal(&other, &foreign), CFOIL_OK);
    key_text_read(&other, &text);
    key_text_write(&world, &text);
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_E_LEDGER_KEY);
    assert_int_equal(seal(&world, &sealed), CFOIL_E_LEDGER_KEY);
    assert_non_null(strstr(world.error.text, "another ledger's"));
    assert_int_equal(change(&world, NULL), CFOIL_E_LEDGER_KEY);
    world_close(&other);
    world_close(&world);
}

static void rights_links_and_folders_are_refused(void **state)
{
    (void)state;
    struct world world;
    struct sealed sealed;
    char moved[340];
    world_open(&world);
    assert_int_equal(seal(&world, &sealed), CFOIL_OK);
    static const mode_t modes[] = {0640, 0604, 0610, 0602};
    for (size_t i = 0; i < sizeof modes / sizeof modes[0]; i++) {
        assert_int_equal(chmod(key_path(&world), modes[i]), 0);
        assert_int_equal(open_sealed(&world, &sealed), CFOIL_E_LEDGER_RIGHTS);
        assert_non_null(strstr(world.error.text, "key file"));
    }
    world.ledger->rights = CFOIL_RIGHTS_ANY; /* who shares the ledger shares the key */
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_OK);
    world.ledger->rights = CFOIL_RIGHTS_OWNER;
    assert_int_equal(chmod(key_path(&world), 0600), 0);
    if (geteuid() == 0) { /* only the super-user can give files away */
        assert_int_equal(chown(key_path(&world), 12345, (gid_t)-1), 0);
        assert_int_equal(open_sealed(&world, &sealed), CFOIL_E_LEDGER_RIGHTS);
        assert_non_null(strstr(world.error.text, "another account"));
        assert_int_equal(chown(world.path, 12345, (gid_t)-1), 0); /* the ledger's owner may own it too */
        assert_int_equal(open_sealed(&world, &sealed), CFOIL_OK);
    }
    snprintf(moved, sizeof moved, "%s/elsewhere", world.folder);
    assert_int_equal(rename(key_path(&world), moved), 0);
    assert_int_equal(symlink(moved, key_path(&world)), 0);
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_E_LEDGER_KEY);
    assert_int_equal(unlink(key_path(&world)), 0);
    assert_int_equal(mkdir(key_path(&world), 0700), 0);
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_E_LEDGER_KEY);
    assert_int_equal(rmdir(key_path(&world)), 0);
    world_close(&world);
}

/* Whatever byte is wrong: refused, or (in the note to people) of no effect. Never another key, never a second one. */
static void every_altered_byte_of_the_key_file_is_found(void **state)
{
    (void)state;
    struct world world;
    struct sealed sealed;
    struct sealed again;
    struct text text;
    world_open(&world);
    assert_int_equal(seal(&world, &sealed), CFOIL_OK);
    key_text_read(&world, &text);
    const char *note = strstr(text.bytes, "\"note\":\"") + 8;
    const char *end = strchr(note, '"');
    for (size_t i = 0; i < text.length; i++) {
        struct text altered = text;
        altered.bytes[i] = (char)(altered.bytes[i] ^ 1);
        key_text_write(&world, &altered);
        int32_t result = seal(&world, &again);
        bool harmless = &text.bytes[i] >= note && &text.bytes[i] < end;
        bool blank = text.bytes[i] == '\n';
        if (!harmless && !blank && result != CFOIL_E_LEDGER_KEY)
            fail_msg("byte %zu '%c': result %#x", i, text.bytes[i], (unsigned)result);
        assert_true(result == CFOIL_E_LEDGER_KEY || open_sealed(&world, &sealed) == CFOIL_OK);
        assert_null(strstr(world.error.text, strstr(text.bytes, "signing_secret") + 17));
    }
    for (size_t length = 0; length < text.length - 1; length += 7) {
        struct text cut = text;
        cut.length = length;
        key_text_write(&world, &cut);
        assert_int_equal(seal(&world, &again), CFOIL_E_LEDGER_KEY);
    }
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry"), 2);
    world_close(&world);
}

static void a_file_of_too_many_bytes_is_refused(void **state)
{
    (void)state;
    struct world world;
    struct sealed sealed;
    world_open(&world);
    assert_int_equal(seal(&world, &sealed), CFOIL_OK);
    assert_int_equal(truncate(key_path(&world), 1 << 20), 0);
    assert_int_equal(seal(&world, &sealed), CFOIL_E_LEDGER_KEY);
    assert_non_null(strstr(world.error.text, "too large"));
    world_close(&world);
}

static void a_full_file_takes_no_more_keys(void **state)
{
    (void)state;
    struct world world;
    struct sealed first;
    world_open(&world);
    assert_int_equal(seal(&world, &first), CFOIL_OK);
    for (unsigned i = 1; i < KEY_PAIRS_MAX; i++)
        assert_int_equal(change(&world, NULL), CFOIL_OK);
    assert_int_equal(change(&world, NULL), CFOIL_E_LEDGER_KEY);
    assert_int_equal(open_sealed(&world, &first), CFOIL_OK);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

/* ---- What was sealed ---- */

static void altered_sealed_bytes_do_not_open(void **state)
{
    (void)state;
    struct world world;
    struct sealed sealed;
    uint8_t plain[PLAIN];
    world_open(&world);
    assert_int_equal(seal(&world, &sealed), CFOIL_OK);
    for (size_t i = 0; i < SEALED; i++) {
        sealed.bytes[i] ^= 1;
        assert_int_equal(open_sealed(&world, &sealed), i < 8 ? CFOIL_E_LEDGER_KEY : CFOIL_E_LEDGER_DAMAGED);
        sealed.bytes[i] ^= 1;
    }
    sealed.nonce[0] ^= 1;
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_E_LEDGER_DAMAGED);
    sealed.nonce[0] ^= 1;
    sealed.context = "case 2";
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_E_LEDGER_DAMAGED);
    sealed.context = "case 1";
    assert_int_equal(key_open(world.ledger, "case 1", sealed.nonce, sealed.bytes, 23, plain, NULL),
                     CFOIL_E_LEDGER_DAMAGED);
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_OK);
    ledger_release(world.ledger);
    assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_OK);
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_OK); /* reading is enough to open */
    world_close(&world);
}

static void the_tables_of_keys_can_be_lost(void **state)
{
    (void)state;
    struct world world;
    struct sealed sealed;
    struct sealed again;
    world_open(&world);
    assert_int_equal(seal(&world, &sealed), CFOIL_OK);
    world_tamper(&world, "UPDATE key SET public_key = zeroblob(32)");
    assert_int_equal(seal(&world, &again), CFOIL_E_LEDGER_KEY);
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_OK);
    world_close(&world);
}

static void every_lack_of_memory_is_told(void **state)
{
    (void)state;
    int32_t result = CFOIL_E_MEMORY;
    struct world world;
    struct scarce scarce = {-1, 0};
    struct memory memory = scarce_memory(&scarce);
    struct sealed sealed;
    world_folder_make(&world);
    assert_int_equal(world_try(&world, &memory, 0), CFOIL_OK);
    for (long n = 0; result != CFOIL_OK; n++) {
        scarce.left = n;
        result = seal(&world, &sealed);
        assert_true(result == CFOIL_OK || result == CFOIL_E_MEMORY);
        assert_true(n < 50);
    }
    for (long n = 0, done = 0; !done; n++) {
        scarce.left = n;
        result = change(&world, NULL);
        done = scarce.left > 0;
        assert_true(result == CFOIL_OK || result == CFOIL_E_MEMORY);
        assert_true(n < 100);
    }
    scarce.left = -1;
    assert_int_equal(open_sealed(&world, &sealed), CFOIL_OK);
    assert_int_equal(world_verify(&world).intact, 1);
    ledger_release(world.ledger);
    world.ledger = NULL;
    assert_int_equal(scarce.blocks, 0);
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_use_makes_the_key_and_says_so),
        cmocka_unit_test(what_is_not_committed_makes_no_second_key),
        cmocka_unit_test(several_processes_make_one_key),
        cmocka_unit_test(a_new_key_is_signed_by_both_and_the_old_one_still_opens),
        cmocka_unit_test(a_change_cut_off_after_its_entry_is_finished_by_the_next),
        cmocka_unit_test(a_change_cut_off_before_its_entry_leaves_the_old_key),
        cmocka_unit_test(a_missing_key_file_is_told_and_never_replaced),
        cmocka_unit_test(another_ledgers_key_file_is_refused),
        cmocka_unit_test(rights_links_and_folders_are_refused),
        cmocka_unit_test(every_altered_byte_of_the_key_file_is_found),
        cmocka_unit_test(a_file_of_too_many_bytes_is_refused),
        cmocka_unit_test(a_full_file_takes_no_more_keys),
        cmocka_unit_test(altered_sealed_bytes_do_not_open),
        cmocka_unit_test(the_tables_of_keys_can_be_lost),
        cmocka_unit_test(every_lack_of_memory_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
