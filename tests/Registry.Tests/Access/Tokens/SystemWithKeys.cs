using System.Net.Http.Json;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.IdentityModel.Tokens;
using Registry.Access;
using Registry.Access.Tokens;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Access.Tokens;

/// <summary>A system that signs, written from the standard without the library that checks it: an RSA key for RS384, one on P-384 for ES384
/// (RFC 7518, 3.3 and 3.4), and assertions as a test wants them.</summary>
internal sealed class SystemWithKeys : IDisposable
{
    public const string RsaKid = "rsa-1", CurveKid = "curve-1", Url = "http://localhost/oauth/token";

    public RSA Rsa { get; } = RSA.Create(2048);
    public ECDsa Curve { get; } = ECDsa.Create(ECCurve.NamedCurves.nistP384);

    /// <summary>Its client_id, once it is registered.</summary>
    public Guid Id { get; private set; }

    public string PublicKeys => new JsonObject { ["keys"] = new JsonArray(RsaKey(), CurveKey()) }.ToJsonString();

    public JsonObject RsaKey()
    {
        var p = Rsa.ExportParameters(false);
        return new()
        {
            ["kty"] = "RSA",
            ["kid"] = RsaKid,
            ["alg"] = "RS384",
            ["n"] = Base64UrlEncoder.Encode(p.Modulus!),
            ["e"] = Base64UrlEncoder.Encode(p.Exponent!)
        };
    }

    public JsonObject CurveKey()
    {
        var q = Curve.ExportParameters(false).Q;
        return new()
        {
            ["kty"] = "EC",
            ["kid"] = CurveKid,
            ["crv"] = "P-384",
            ["x"] = Base64UrlEncoder.Encode(q.X!),
            ["y"] = Base64UrlEncoder.Encode(q.Y!)
        };
    }

    public async Task<SystemWithKeys> RegisterAsync(IntakeBed bed, SiteId site, KeyScope scope = KeyScope.SendAndRead)
    {
        await using var scoped = bed.App.Services.CreateAsyncScope();
        var (kept, problem) = PublicKeySet.Read(PublicKeys);
        Assert.Null(problem);
        Id = (await scoped.ServiceProvider.GetRequiredService<SiteKeys>()
            .RegisterAsync(site, "ward system", scope, DateTimeOffset.UtcNow.AddYears(1), kept!, IntakeBed.Ct)).Id;
        return this;
    }

    /// <param name="change">Alters header and claims before they are signed.</param>
    /// <param name="algorithm">RS384, ES384, none, or HS256: then the RSA key's public half, as PEM, is the secret.</param>
    public string Assertion(Action<JsonObject, JsonObject>? change = null, string algorithm = "ES384")
    {
        var header = new JsonObject { ["alg"] = algorithm, ["typ"] = "JWT", ["kid"] = algorithm == "ES384" ? CurveKid : RsaKid };
        var claims = new JsonObject
        {
            ["iss"] = Id.ToString(),
            ["sub"] = Id.ToString(),
            ["aud"] = Url,
            ["exp"] = DateTimeOffset.UtcNow.AddMinutes(4).ToUnixTimeSeconds(),
            ["jti"] = Guid.NewGuid().ToString(),
        };
        change?.Invoke(header, claims);
        var said = $"{Base64UrlEncoder.Encode(header.ToJsonString())}.{Base64UrlEncoder.Encode(claims.ToJsonString())}";
        var bytes = Encoding.ASCII.GetBytes(said);
        return $"{said}.{Base64UrlEncoder.Encode(algorithm switch
        {
            "none" => [],
            "RS384" => Rsa.SignData(bytes, HashAlgorithmName.SHA384, RSASignaturePadding.Pkcs1),
            "ES384" => Curve.SignData(bytes, HashAlgorithmName.SHA384),
            "RS256" => Rsa.SignData(bytes, HashAlgorithmName.SHA256, RSASignaturePadding.Pkcs1),
            _ => HMACSHA256.HashData(Encoding.ASCII.GetBytes(Rsa.ExportSubjectPublicKeyInfoPem()), bytes),
        })}";
    }

    public static Dictionary<string, string> Form(string assertion, string scope) => new()
    {
        ["grant_type"] = "client_credentials",
        ["scope"] = scope,
        ["client_assertion_type"] = IssueToken.AssertionType,
        ["client_assertion"] = assertion,
    };

    /// <returns>The status and what was answered.</returns>
    public static async Task<(int Status, JsonElement Answer)> PostAsync(HttpClient client, IEnumerable<KeyValuePair<string, string>> form)
    {
        using var content = new FormUrlEncodedContent(form);
        using var answer = await client.PostAsync(IssueToken.Path, content, IntakeBed.Ct);
        return ((int)answer.StatusCode, await answer.Content.ReadFromJsonAsync<JsonElement>(IntakeBed.Ct));
    }

    public async Task<string> TokenAsync(HttpClient client, string scope = "system/*.crs")
    {
        var (status, answer) = await PostAsync(client, Form(Assertion(), scope));
        Assert.True(status == 200, answer.ToString());
        return answer.GetProperty("access_token").GetString()!;
    }

    public void Dispose()
    {
        Rsa.Dispose();
        Curve.Dispose();
    }
}
