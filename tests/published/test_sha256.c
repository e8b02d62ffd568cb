/*
 * The hash of the ledger against the examples of its standard, in the two ways in which the library is called.
 */
#include "model/text.h"

#include "test.h"

#include <sodium/crypto_hash_sha256.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static const struct {
    const char *message;
    size_t repeats;
    const char *hash;
} rows[] = {
    /* FIPS 180-4 (Secure Hash Standard), example of one block: "abc" (from memory). */
    {"abc", 1, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
    /* The same, example of two blocks: 448 bits (from memory). */
    {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", 1,
     "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
    /* The same, long message: one million times "a" (from memory). */
    {"a", 1000000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"},
    /* NIST CAVP, SHA256ShortMsg.rsp, Len = 0 (from memory). */
    {"", 1, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
    /* NIST CAVP, SHA256ShortMsg.rsp, Len = 8, Msg = d3 (from memory). */
    {"\xd3", 1, "28969cdfa74a12c82f3bad960b0b000aca2ac329deea5c2328ebc6f2ba9802c1"},
    /* The same, Len = 16 and Len = 24 (from memory; Python's hashlib gives the same). */
    {"\x11\xaf", 1, "5ca7133fa735326081558ac312c620eeca9970d1e70a4b95533d956f072d1f98"},
    {"\xb4\x19\x0e", 1, "dff2e73091f6c05e528896c4c831b9448653dc2ff043528f6769437bc7b975c2"},
    /* FIPS 180-4, message of 896 bits (from memory; Python's hashlib gives the same). */
    {"abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmnhijklmnoijklmnopjklmnopqklmnopqrlmnopqrsmnopqrstnopqrstu",
     1, "cf5b16a778af8380036ce59e7b0492370b249b11e8f07a51afac45037afee9d1"},
};

enum { ROWS = sizeof rows / sizeof rows[0] };

static void the_standards_examples(void **state)
{
    (void)state;
    for (int i = 0; i < ROWS; i++) {
        crypto_hash_sha256_state hashing;
        uint8_t hash[32];
        char hex[65];
        crypto_hash_sha256_init(&hashing);
        for (size_t repeat = 0; repeat < rows[i].repeats; repeat++)
            crypto_hash_sha256_update(&hashing, (const unsigned char *)rows[i].message, strlen(rows[i].message));
        crypto_hash_sha256_final(&hashing, hash);
        text_hex(hash, sizeof hash, hex);
        assert_string_equal(hex, rows[i].hash);
    }
}

/* The split into pieces must not matter. */
static void pieces_give_the_same_hash(void **state)
{
    (void)state;
    const char *message = rows[1].message;
    size_t length = strlen(message);
    for (size_t cut = 0; cut <= length; cut++) {
        crypto_hash_sha256_state hashing;
        uint8_t hash[32];
        char hex[65];
        crypto_hash_sha256_init(&hashing);
        crypto_hash_sha256_update(&hashing, (const unsigned char *)message, cut);
        crypto_hash_sha256_update(&hashing, (const unsigned char *)message + cut, length - cut);
        crypto_hash_sha256_final(&hashing, hash);
        text_hex(hash, sizeof hash, hex);
        assert_string_equal(hex, rows[1].hash);
    }
}

/* What is from memory above is told by GNU coreutils' sha256sum as well, which shares no code with libsodium. */
static void sha256sum_agrees(void **state)
{
    (void)state;
    const char *base = getenv("TMPDIR");
    char path[200];
    snprintf(path, sizeof path, "%s/counterfoil-XXXXXX", base != NULL ? base : "/tmp");
    int file = mkstemp(path);
    assert_true(file >= 0);
    close(file);
    for (int i = 0; i < ROWS; i++) {
        FILE *out = fopen(path, "wb");
        assert_non_null(out);
        for (size_t repeat = 0; repeat < rows[i].repeats; repeat++)
            fputs(rows[i].message, out);
        assert_int_equal(fclose(out), 0);
        char command[300];
        char hex[65] = "";
        snprintf(command, sizeof command, "sha256sum < '%s'", path);
        FILE *sum = popen(command, "r");
        assert_non_null(sum);
        assert_int_equal(fread(hex, 1, 64, sum), 64);
        pclose(sum);
        assert_string_equal(hex, rows[i].hash);
    }
    unlink(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_standards_examples),
        cmocka_unit_test(pieces_give_the_same_hash),
        cmocka_unit_test(sha256sum_agrees),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
