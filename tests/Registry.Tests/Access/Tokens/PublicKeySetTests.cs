using System.Security.Cryptography;
using System.Text.Json.Nodes;
using Microsoft.IdentityModel.JsonWebTokens;
using Microsoft.IdentityModel.Tokens;
using Registry.Access.Tokens;

namespace Registry.Tests.Access.Tokens;

/// <summary>Key sets people paste, and the worked examples of the standard: HL7 SMART App Launch, "Example JWKS and signatures" (public
/// keys and assertions in RS384 and ES384), made by another library (python-jose).</summary>
public sealed class PublicKeySetTests
{
    private const string ClaimsOfExamples =
        "eyJpc3MiOiJodHRwczovL2JpbGktbW9uaXRvci5leGFtcGxlLmNvbSIsInN1YiI6Imh0dHBzOi8vYmlsaS1tb25pdG9yLmV4YW1wbGUuY29tIiwiYXVkIjoiaHR0cHM6Ly9hdXRob3JpemUuc21hcnRoZWFsdGhpdC5vcmcvdG9rZW4iLCJleHAiOjE0MjI1Njg4NjAsImp0aSI6InJhbmRvbS1ub24tcmV1c2FibGUtand0LWlkLTEyMyJ9";

    private const string RsaKey =
        """{"kty":"RSA","alg":"RS384","n":"wJq2RHIA-7RT6q4go7wjcbHdW7ck7Kz22A8wf-kN7Wi5CWvhFG2_Y7nQp1lDpb2IKMQr-Q4n_vgJ6d5rWPspJpSPY7iffUK4ipQCEbzID5DJ6fQMBZOfCTXyxkuMh3jYGKEF3Ziw2oxbM1H9j-eJAPtrj5stUG6kVoXowegdox-bSjWP0iI5PnkwUNzcekLMug4M3LRluEQgGR9O_BAML6-w3igZ_rZA_gunyrLAMbfmCVaceW5ohLp679kyM7U6W2gDK_NbkDKcINUakVmPeoG5h8RzgGzvGrySR0k0VDFiZv60Ua07DqHTeDGH9e4NV07AECae-oykIj5NDCs3pw","e":"AQAB","key_ops":["verify"],"ext":true,"kid":"eee9f17a3b598fd86417a980b591fbe6"}""";

    private const string RsaExample =
        "eyJhbGciOiJSUzM4NCIsImtpZCI6ImVlZTlmMTdhM2I1OThmZDg2NDE3YTk4MGI1OTFmYmU2IiwidHlwIjoiSldUIn0." + ClaimsOfExamples + ".D5kAqNJwaftCqsRdVVQDq6dMBxuGFOF5svQJuXbcYp-oEyg5qOwK9ZE5cGLTHxqwfpUPNzRKgVdIGuhawAA-8g0s1nKQae8CuKs33hhKh4J34xSEwW3MYs1gwI4GHTtR_g3kYSX6QCi14Ed3GIAvYFgqRqt-gD7sewMUXL4SB8I8cXcDbCqVizm7uPVhjw6QaeKZygJJ_AVLhM4Xs9LTy4HAhdCHpN0FrNmCerUIYJvHDpcod7A0jDmxdoeW1KIBYlhdhQNwjtsTvT1ce4qacN_3KIv_fIzCKLIgDv9eWxkjAtxOmIm8aW5gX9xX7X0nbd0QglIyiic_bZVNNEh0kg";

    private const string CurveKey =
        """{"kty":"EC","crv":"P-384","x":"pyqburM9y8HPcFhNosDW6ngoVEJitqXi_HJgI5hYqX21PoFDwCbYirGy_o0oapIU","y":"95bxkCnMKoHvgbcPAIAcgzzu8scd81mXfM_IzuJFNfkUNkGYBFGvuEU1KPi5j1ob","key_ops":["verify"],"ext":true,"kid":"cd520211e5661dbba2256f67f6d53f97","alg":"ES384"}""";

    private const string CurveExample =
        "eyJhbGciOiJFUzM4NCIsImtpZCI6ImNkNTIwMjExZTU2NjFkYmJhMjI1NmY2N2Y2ZDUzZjk3IiwidHlwIjoiSldUIn0." + ClaimsOfExamples + ".ddl5N8dt5PYI_7syKg_dm1wj1LR3dYVztFlTODs6pU1vKH1Zv3d9NctbnAsZ4aZ1K7HE83_fA_hIAL0JsU1GoB7roLmrpj8zfygG9Q1ZBAmKNoR60pyONPZsGTihoR29";

    [Theory]
    [InlineData(RsaExample)]
    [InlineData(CurveExample)]
    public async Task The_worked_examples_of_the_standard_are_signed_by_its_published_keys(string example)
    {
        var (kept, problem) = PublicKeySet.Read($$"""{"keys":[{{RsaKey}},{{CurveKey}}]}""");
        Assert.Null(problem);
        Assert.True(await Assertion.IsSignedAsync(new JsonWebToken(example), kept!));
        // Another claim, and another signature.
        Assert.False(await Assertion.IsSignedAsync(
            new JsonWebToken(example.Replace(".eyJpc3Mi", ".eyJpc3Qi", StringComparison.Ordinal)), kept!));
        Assert.False(await Assertion.IsSignedAsync(new JsonWebToken(example[..^4] + (example.EndsWith("0kg", StringComparison.Ordinal)
            ? "AAkg" : "AR29")), kept!));
    }

    [Fact]
    public void What_is_kept_is_what_is_public_and_needed()
    {
        var (kept, problem) = PublicKeySet.Read($$"""{"keys":[{{RsaKey}},{{CurveKey}}], "more": 1}""");
        Assert.Null(problem);
        var keys = JsonNode.Parse(kept!)!["keys"]!.AsArray();
        Assert.Equal(["e kid kty n", "crv kid kty x y"],
            keys.Select(k => string.Join(' ', k!.AsObject().Select(p => p.Key).Order(StringComparer.Ordinal))));
        Assert.Equal(2, PublicKeySet.Count(kept!));
    }

    [Theory]
    [InlineData("no JSON", "is no JSON Web Key Set")]
    [InlineData("[]", "is no JSON Web Key Set")]
    [InlineData("{}", "is no JSON Web Key Set")]
    [InlineData("""{"keys":[]}""", "is no JSON Web Key Set")]
    [InlineData("""{"keys":[1]}""", "is no object")]
    [InlineData("""{"keys":[{"kty":"EC","kid":5}]}""", "is no JSON Web Key Set")]
    [InlineData("""{"keys":[{"kty":"oct","kid":"a","k":"c2VjcmV0"}]}""", "private key")]
    [InlineData("""{"keys":[{"kty":"OKP","kid":"a","crv":"Ed25519","x":"AA"}]}""", "neither an RSA key")]
    [InlineData("""{"keys":[{"kty":"RSA","n":"AQAB","e":"AQAB"}]}""", "needs a kid")]
    [InlineData("""{"keys":[{"kty":"RSA","kid":"a","n":"AQAB","e":"AQAB"}]}""", "2048 to 4096")]
    [InlineData("""{"keys":[{"kty":"RSA","kid":"a","n":"***","e":"AQAB"}]}""", "is no JSON Web Key Set")]
    [InlineData("""{"keys":[{"kty":"EC","kid":"a","crv":"P-256","x":"AA","y":"AA"}]}""", "is not on P-384")]
    [InlineData("""{"keys":[{"kty":"EC","kid":"a","crv":"P-384","x":"AA","y":"AA"}]}""", "no point of its curve")]
    public void What_is_no_set_of_keys_for_these_signatures_is_refused_in_words(string text, string because)
    {
        var (kept, problem) = PublicKeySet.Read(text);
        Assert.Null(kept);
        Assert.Contains(because, problem, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("use", "enc", "not for signatures")]
    [InlineData("alg", "RS256", "must be for RS384")]
    [InlineData("d", "AQAB", "private key")]
    [InlineData("e", "Aw", "exponent")] // 3
    [InlineData("e", "AQAA", "exponent")] // even
    public void So_is_a_good_key_with_one_wrong_member(string name, string value, string because)
    {
        var key = JsonNode.Parse(RsaKey)!.AsObject();
        key[name] = value;
        Assert.Contains(because, PublicKeySet.Read(new JsonObject { ["keys"] = new JsonArray(key) }.ToJsonString()).Problem,
            StringComparison.Ordinal);
    }

    [Fact]
    public void Two_keys_of_one_name_and_too_many_and_a_weak_one_are_refused()
    {
        Assert.Contains("same kid", PublicKeySet.Read($$"""{"keys":[{{RsaKey}},{{RsaKey}}]}""").Problem, StringComparison.Ordinal);
        Assert.Contains("one to 8", PublicKeySet.Read(
            $$"""{"keys":[{{string.Join(',', Enumerable.Repeat(RsaKey, 9))}}]}""").Problem, StringComparison.Ordinal);
        Assert.Contains("KiB", PublicKeySet.Read(new string(' ', PublicKeySet.Longest + 1)).Problem, StringComparison.Ordinal);
        using var weak = RSA.Create(1024);
        var n = Base64UrlEncoder.Encode(weak.ExportParameters(false).Modulus!);
        Assert.Contains("1024 bits", PublicKeySet.Read($$"""{"keys":[{"kty":"RSA","kid":"a","n":"{{n}}","e":"AQAB"}]}""").Problem,
            StringComparison.Ordinal);
    }
}
