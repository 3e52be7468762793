using System.Security.Cryptography;
using System.Text;
using System.Text.Json.Serialization;
using System.Threading.RateLimiting;
using Microsoft.AspNetCore.Mvc;
using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Access.Tokens;

/// <summary>What a system is given (RFC 6749, 5.1).</summary>
public sealed record GivenToken(
    [property: JsonPropertyName("access_token")] string Token,
    [property: JsonPropertyName("token_type")] string Type,
    [property: JsonPropertyName("expires_in")] int Seconds,
    [property: JsonPropertyName("scope")] string Scope);

/// <summary>Why it is given none (RFC 6749, 5.2).</summary>
public sealed record TokenRefusal(
    [property: JsonPropertyName("error")] string Error,
    [property: JsonPropertyName("error_description")] string Description);

/// <summary>
/// <c>POST /oauth/token</c>: a system that signs shows an <see cref="Assertion"/> and is given a token for five minutes (SMART App Launch
/// 2.2, "Backend Services": client credentials of RFC 6749 section 4.4, <c>private_key_jwt</c> of RFC 7523). The token is random and its
/// row is looked up at every request together with its key: it stops when the key does. There is no other grant and no refreshing.
/// </summary>
public sealed class IssueToken(
    FindSiteKey find, NpgsqlDataSource source, AppendToTrail trail, DescribeRequest describe, TimeProvider clock, ILogger<IssueToken> log)
    : IDisposable
{
    public const string Path = "/oauth/token";
    public const string AssertionType = "urn:ietf:params:oauth:client-assertion-type:jwt-bearer";
    public static readonly TimeSpan Lasts = TimeSpan.FromMinutes(5);

    private const int TriesPerMinute = 120, LargestForm = 32 * 1024;
    private static readonly string TakeSql = EmbeddedSql.Of<IssueToken>("TakeAssertion");

    private readonly PartitionedRateLimiter<string> _tries = PartitionedRateLimiter.Create<string, string>(address =>
        RateLimitPartition.GetTokenBucketLimiter(address, _ => new()
        {
            TokenLimit = TriesPerMinute,
            TokensPerPeriod = TriesPerMinute / 60,
            ReplenishmentPeriod = TimeSpan.FromSeconds(1),
            QueueLimit = 0,
        }));

    /// <summary>Where it is asked for, and whom assertions must be meant for.</summary>
    public static string UrlOf(HttpRequest request) => $"{request.Scheme}://{request.Host}{Path}";

    public static void Map(WebApplication app)
    {
        app.MapPost(Path, PostAsync).AllowAnonymous().WithMetadata(new RequestSizeLimitAttribute(LargestForm))
            .WithName("token").WithTags("Tokens").WithSummary("A token for a system that signs")
            .WithDescription("See docs/operations/systems.md.").Produces<GivenToken>().Produces<TokenRefusal>(400).ProducesProblem(429);
        // Any other verb is answered here, and not by asking a system to sign in.
        app.Map(Path, (HttpContext http) =>
        {
            http.Response.Headers.Allow = "POST";
            return Results.StatusCode(StatusCodes.Status405MethodNotAllowed);
        }).AllowAnonymous().ExcludeFromDescription();
    }

    private static async Task<IResult> PostAsync(HttpContext http, IssueToken issue)
    {
        http.Response.Headers.CacheControl = "no-store";
        http.Response.Headers.Pragma = "no-cache";
        using var lease = issue._tries.AttemptAcquire(http.Connection.RemoteIpAddress?.ToString() ?? "");
        if (lease.IsAcquired) return await issue.AnswerAsync(http, http.RequestAborted);
        http.Response.Headers.RetryAfter = "1";
        return Results.Problem(statusCode: StatusCodes.Status429TooManyRequests, title: "Too many tokens are asked for at once");
    }

    public void Dispose() => _tries.Dispose();

    private async Task<IResult> AnswerAsync(HttpContext http, CancellationToken ct)
    {
        if (await ReadFormAsync(http, ct) is not { } form) return Refused("invalid_request", "send one form, each parameter once");
        if (form.GetValueOrDefault("grant_type") != "client_credentials")
            return Refused("unsupported_grant_type", "grant_type is client_credentials");
        if (http.Request.Headers.Authorization.Count > 0 || form.ContainsKey("client_secret"))
            return Refused("invalid_request", "a system proves itself by client_assertion alone");
        if (form.GetValueOrDefault("client_assertion_type") != AssertionType)
            return Refused("invalid_client", $"client_assertion_type is {AssertionType}");

        var (assertion, problem) = Assertion.Read(form.GetValueOrDefault("client_assertion") ?? "", UrlOf(http.Request), clock.GetUtcNow());
        if (assertion is null) return await RefuseAsync(http, null, $"client_assertion: {problem}");
        if (form.TryGetValue("client_id", out var said) && said != assertion.Client.ToString())
            return await RefuseAsync(http, null, "client_id is another than the assertion's");
        // Whether the system is unknown or its signature wrong is not told.
        if (await find.OfSystemAsync(assertion.Client, ct) is not { } key || !await assertion.IsSignedByAsync(key.PublicKeys!))
            return await RefuseAsync(http, assertion.Client, "no system in force has a public key that this assertion is signed with");
        if (!CertificatePins.Admit(key.Certificates, http.Connection.ClientCertificate, clock.GetUtcNow()))
            return await RefuseAsync(http, key.Id, "the client certificate this system must show was not shown");
        return await GiveAsync(http, key, assertion, form.GetValueOrDefault("scope") ?? "", ct);
    }

    /// <summary>An assertion is used up even where it asked for too much: nobody else can ask better with it.</summary>
    private async Task<IResult> GiveAsync(HttpContext http, KeyInForce key, Assertion assertion, string asked, CancellationToken ct)
    {
        var scope = TokenScopes.Parse(asked) is { } s && TokenScopes.IsWithin(s, key.Scope) ? s : (KeyScope?)null;
        var token = SiteKeys.NewToken();
        if (!await TakeAsync(key.Id, assertion.Id, scope is null ? null : token, scope, ct))
            return await RefuseAsync(http, key.Id, "this assertion was shown before (jti)");
        if (scope is not { } granted)
            return Refused("invalid_scope", $"this system may ask for {TokenScopes.Of(key.Scope)}, or for less, of: "
                + string.Join(", ", TokenScopes.Supported));
        await trail.AddAsync(describe.Entry(http, AccessKind.TokenIssued, subject: key.Id, note: Codes.Of(granted)));
        return Results.Json(new GivenToken(token, "bearer", (int)Lasts.TotalSeconds, TokenScopes.Of(granted)));
    }

    private async Task<bool> TakeAsync(Guid key, string assertion, string? token, KeyScope? scope, CancellationToken ct)
    {
        var now = clock.GetUtcNow();
        await using var command = source.CreateCommand(TakeSql);
        command.Parameters.AddWithValue("id", Guid.CreateVersion7());
        command.Parameters.AddWithValue("key", key);
        command.Parameters.AddWithValue("assertion", SHA256.HashData(Encoding.UTF8.GetBytes(assertion)));
        command.Parameters.AddNullable("token", token is null ? null : SiteKeys.Hash(token), NpgsqlDbType.Bytea);
        command.Parameters.AddCode("scope", scope);
        command.Parameters.AddWithValue("now", now);
        command.Parameters.AddWithValue("ends", token is null ? now : now + Lasts);
        return await command.ExecuteNonQueryAsync(ct) == 1;
    }

    /// <summary>Null when it cannot be read, or a parameter comes twice (RFC 6749, 3.2).</summary>
    private static async Task<Dictionary<string, string>?> ReadFormAsync(HttpContext http, CancellationToken ct)
    {
        var type = http.Request.GetTypedHeaders().ContentType?.MediaType.Value;
        if (!string.Equals(type, "application/x-www-form-urlencoded", StringComparison.OrdinalIgnoreCase)) return null;
        try
        {
            var form = await http.Request.ReadFormAsync(ct);
            return form.Any(f => f.Value.Count != 1 || RefuseUnreadable.Holds(f.Value)) ? null
                : form.ToDictionary(f => f.Key, f => f.Value.ToString());
        }
        catch (Exception e) when (e is InvalidDataException or BadHttpRequestException)
        {
            return null; // too long, or no form
        }
    }

    private async Task<IResult> RefuseAsync(HttpContext http, Guid? system, string problem)
    {
        log.LogWarning("No token for system {System}: {Problem}", system, problem);
        await trail.AddOfStrangerAsync(note => describe.Entry(http, AccessKind.KeyRefused, subject: system, note: note));
        return Refused("invalid_client", problem);
    }

    private static IResult Refused(string error, string description) =>
        Results.Json(new TokenRefusal(error, description), statusCode: StatusCodes.Status400BadRequest);
}
