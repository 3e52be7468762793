using System.Numerics;
using System.Security.Cryptography;
using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.IdentityModel.Tokens;

namespace Registry.Access.Tokens;

/// <summary>
/// The public keys of a system, as an administrator pastes them: a JSON Web Key Set (RFC 7517) of RSA keys for RS384 and of keys on P-384
/// for ES384, each with a <c>kid</c> (SMART App Launch 2.2, "Registering a client"). What is kept of it is what is public and needed.
/// </summary>
public static class PublicKeySet
{
    public const int Longest = 16 * 1024;
    private const int MostKeys = 8, LongestKid = 200;

    private static readonly string[] Secret = ["d", "p", "q", "dp", "dq", "qi", "oth", "k"];

    /// <returns>The set as it is kept; or what is wrong with it, in words.</returns>
    public static (string? Kept, string? Problem) Read(string text)
    {
        if (text.Length > Longest) return (null, $"At most {Longest / 1024} KiB.");
        try
        {
            if (JsonNode.Parse(text) is not JsonObject set || set["keys"] is not JsonArray { Count: > 0 and <= MostKeys } keys)
                return (null, $"This is no JSON Web Key Set: {{\"keys\": [...]}} with one to {MostKeys} keys.");
            if (keys.Any(k => k is not JsonObject)) return (null, "A key of the set is no object.");
            var read = keys.Select(k => ReadKey(k!.AsObject())).ToList();
            if (read.Select(r => r.Problem).FirstOrDefault(p => p is not null) is { } problem) return (null, problem);
            if (read.DistinctBy(r => (string)r.Kept!["kid"]!).Count() < read.Count) return (null, "Two keys of the set have the same kid.");
            return (new JsonObject { ["keys"] = new JsonArray([.. read.Select(r => r.Kept)]) }.ToJsonString(), null);
        }
        catch (Exception e) when (e is JsonException or InvalidOperationException or FormatException or ArgumentException)
        {
            return (null, "This is no JSON Web Key Set.");
        }
    }

    /// <summary>The one key of a kept set that a signature says it is by: by its kid, and of the kind the algorithm is for.</summary>
    internal static JsonWebKey? Find(string kept, string kid, string algorithm)
    {
        var kind = algorithm == SecurityAlgorithms.RsaSha384 ? JsonWebAlgorithmsKeyTypes.RSA : JsonWebAlgorithmsKeyTypes.EllipticCurve;
        return new JsonWebKeySet(kept).Keys.Where(k => k.Kid == kid && k.Kty == kind).ToList() is [var only] ? only : null;
    }

    public static int Count(string kept) => new JsonWebKeySet(kept).Keys.Count;

    private static (JsonObject? Kept, string? Problem) ReadKey(JsonObject key)
    {
        if (Secret.Any(key.ContainsKey))
            return (null, "This set holds a private key, which must never leave the system. It is not kept here; have the system make a "
                + "new pair.");
        if ((string?)key["kid"] is not { Length: > 0 and <= LongestKid } kid || kid.Contains('\0', StringComparison.Ordinal))
            return (null, "Every key needs a kid, by which an assertion says which key signed it.");
        if ((string?)key["use"] is not (null or "sig")) return (null, $"The key {kid} is not for signatures (use).");
        var (wanted, problem) = (string?)key["kty"] switch
        {
            "RSA" => (SecurityAlgorithms.RsaSha384, RsaProblem(Bytes(key, "n"), Bytes(key, "e"))),
            "EC" => (SecurityAlgorithms.EcdsaSha384, CurveProblem((string?)key["crv"], Bytes(key, "x"), Bytes(key, "y"))),
            _ => ("", "is neither an RSA key nor one on a curve (kty)"),
        };
        if (problem is null && (string?)key["alg"] is { } alg && alg != wanted) problem = $"is for {alg}: it must be for {wanted}";
        if (problem is not null) return (null, $"The key {kid} {problem}.");
        var kept = new JsonObject();
        foreach (var name in (string[])["kty", "kid", "n", "e", "crv", "x", "y"])
            if (key[name] is { } value) kept[name] = value.DeepClone();
        return (kept, null);
    }

    private static byte[] Bytes(JsonObject key, string name) => Base64UrlEncoder.DecodeBytes((string?)key[name] ?? "");

    /// <remarks>At least 2048 bits: RFC 7518, 3.3. At most 4096, and an exponent of 32 bits: so that no key makes checking slow.</remarks>
    private static string? RsaProblem(byte[] modulus, byte[] exponent)
    {
        var bits = (int)new BigInteger(modulus, isUnsigned: true, isBigEndian: true).GetBitLength();
        var e = new BigInteger(exponent, isUnsigned: true, isBigEndian: true);
        return bits is < 2048 or > 4096 ? $"has {bits} bits: 2048 to 4096 are taken"
            : e < 65_537 || e > uint.MaxValue || e.IsEven ? "has an exponent that is not taken: 65537 is usual" : null;
    }

    private static string? CurveProblem(string? curve, byte[] x, byte[] y)
    {
        if (curve != "P-384") return $"is not on P-384, the curve of ES384";
        try
        {
            using var key = ECDsa.Create(new ECParameters { Curve = ECCurve.NamedCurves.nistP384, Q = new() { X = x, Y = y } });
            return null;
        }
        catch (CryptographicException)
        {
            return "is no point of its curve";
        }
    }
}
