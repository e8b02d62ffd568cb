/*
 * Signatures and sealing against the examples of their standards, in the way in which the ledger calls them.
 */
#include "ledger/crypto_start.h"
#include "ledger/hex.h"
#include "ledger/key.h"

#include "test.h"

#include <sodium/crypto_aead_xchacha20poly1305.h>
#include <sodium/crypto_sign.h>

/* RFC 8032, section 7.1: tests 1, 2, 3 and SHA(abc). From memory; another program (Python's cryptography package, which
 * uses OpenSSL) gives the same public keys and signatures. The test of 1024 bytes is left out. */
static const struct {
    const char *secret, *public_key, *message, *signature;
} rows[] = {
    {"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
     "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
     "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe246"
     "55"
     "141438e7a100b"},
    {"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
     "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
     "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb"
     "00"
     "d291612bb0c00"},
    {"c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
     "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
     "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc"
     "02"
     "7beceea1ec40a"},
    {"833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
     "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
     "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2"
     "a9"
     "ac94fa54ca49f",
     "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c66431e0303dca179c138ac17ad"
     "9b"
     "ef1177331a704"},
};

static void the_standards_signatures(void **state)
{
    (void)state;
    assert_int_equal(crypto_start(NULL), CFOIL_OK);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct key_pair pair;
        uint8_t message[64];
        uint8_t expected[KEY_SIGNATURE_SIZE];
        uint8_t signature[KEY_SIGNATURE_SIZE];
        uint8_t public_key[KEY_SIZE];
        size_t length = strlen(rows[i].message) / 2;
        assert_true(hex_text_read(rows[i].secret, pair.signing_seed, KEY_SIZE));
        assert_true(hex_text_read(rows[i].public_key, public_key, KEY_SIZE));
        assert_true(hex_text_read(rows[i].message, message, length));
        assert_true(hex_text_read(rows[i].signature, expected, sizeof expected));
        key_sign(&pair, message, length, signature);
        assert_memory_equal(signature, expected, sizeof expected);
        assert_int_equal(crypto_sign_verify_detached(expected, message, length, public_key), 0);
        expected[i] ^= 1;
        assert_int_not_equal(crypto_sign_verify_detached(expected, message, length, public_key), 0);
    }
}

/* RFC 8032, section 5.1.7: a signature whose second half is not below the order of the group is not valid, although it
 * stands for the same number. The order L of edwards25519 is from section 5.1. */
static void another_form_of_a_signature_is_none(void **state)
{
    (void)state;
    static const uint8_t order[32] = {0xed, 0xd3, 0xf5, 0x5c, 0x1a, 0x63, 0x12, 0x58,       0xd6,
                                      0x9c, 0xf7, 0xa2, 0xde, 0xf9, 0xde, 0x14, [31] = 0x10};
    uint8_t signature[KEY_SIGNATURE_SIZE];
    uint8_t public_key[KEY_SIZE];
    unsigned carry = 0;
    assert_true(hex_text_read(rows[0].signature, signature, sizeof signature));
    assert_true(hex_text_read(rows[0].public_key, public_key, sizeof public_key));
    assert_int_equal(crypto_sign_verify_detached(signature, NULL, 0, public_key), 0);
    for (int i = 0; i < 32; i++) {
        carry += signature[32 + i] + (unsigned)order[i];
        signature[32 + i] = (uint8_t)carry;
        carry >>= 8;
    }
    assert_int_not_equal(crypto_sign_verify_detached(signature, NULL, 0, public_key), 0);
}

/* draft-irtf-cfrg-xchacha-03, appendix A.3.1 (from memory; the tag would not fit if a byte were wrong). */
static void the_drafts_sealed_text(void **state)
{
    (void)state;
    static const char plain[] = "Ladies and Gentlemen of the class of '99: If I could offer you only one tip for the "
                                "future, sunscreen would be it.";
    static const char sealed[] = "bd6d179d3e83d43b9576579493c0e939572a1700252bfaccbed2902c21396cbb731c7f1b0b4aa6440bf3a"
                                 "82f4eda7e39ae64c6708c54c216"
                                 "cb96b72e1213b4522f8c9ba40db5d945b11b69b982c1bb9e3f3fac2bc369488f76b2383565d3fff921f96"
                                 "64c97637da9768812f615c68b13"
                                 "b52ec0875924c1c7987947deafd8780acf49";
    uint8_t key[32];
    uint8_t nonce[24];
    uint8_t expected[sizeof plain - 1 + 16];
    uint8_t made[sizeof expected];
    uint8_t opened[sizeof plain];
    static const uint8_t context[] = {0x50, 0x51, 0x52, 0x53, 0xc0, 0xc1, 0xc2, 0xc3, 0xc4, 0xc5, 0xc6, 0xc7};
    for (size_t i = 0; i < sizeof key; i++)
        key[i] = (uint8_t)(0x80 + i);
    for (size_t i = 0; i < sizeof nonce; i++)
        nonce[i] = (uint8_t)(0x40 + i);
    assert_true(hex_text_read(sealed, expected, sizeof expected));
    crypto_aead_xchacha20poly1305_ietf_encrypt(made, NULL, (const unsigned char *)plain, sizeof plain - 1, context,
                                               sizeof context, NULL, nonce, key);
    assert_memory_equal(made, expected, sizeof expected);
    assert_int_equal(crypto_aead_xchacha20poly1305_ietf_decrypt(opened, NULL, NULL, expected, sizeof expected, context,
                                                                sizeof context, nonce, key),
                     0);
    assert_memory_equal(opened, plain, sizeof plain - 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_standards_signatures),
        cmocka_unit_test(another_form_of_a_signature_is_none),
        cmocka_unit_test(the_drafts_sealed_text),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
