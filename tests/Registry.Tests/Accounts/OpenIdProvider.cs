using System.Security.Claims;
using System.Security.Cryptography;
using System.Text.Json.Nodes;
using Microsoft.AspNetCore;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Microsoft.AspNetCore.Http;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.IdentityModel.Tokens;
using OpenIddict.Abstractions;
using OpenIddict.Server.AspNetCore;
using Registry.Tests.Intake;
using static OpenIddict.Abstractions.OpenIddictConstants;

namespace Registry.Tests.Accounts;

/// <summary>
/// A real OpenID provider on a loopback port: OpenIddict, with its codes and clients in a database of its own. It lets in at once whoever a
/// test says is there. Its honest answers can be altered on their way out and signed anew with its key, as only a provider gone bad could.
/// </summary>
public sealed class OpenIdProvider : IAsyncDisposable
{
    public const string Client = "registry", Secret = "a secret of the tests";
    private readonly WebApplication _app;
    private readonly RsaSecurityKey _key;

    private OpenIdProvider(WebApplication app, RsaSecurityKey key) => (_app, _key) = (app, key);

    public string Authority => _app.Services.GetRequiredService<IServer>().Features.Get<IServerAddressesFeature>()!.Addresses.Single();

    /// <summary>Who is there.</summary>
    public string Subject { get; set; } = "subject-1";
    public List<Claim> Claims { get; } = [];

    /// <summary>Alters the payload of the ID token.</summary>
    public Action<JsonObject>? Alter { get; set; }

    /// <summary>Takes the signature away (alg none).</summary>
    public bool WithoutSignature { get; set; }

    /// <summary>What its metadata says it is.</summary>
    public string? SaysItIs { get; set; }

    /// <summary>One for all tests of a class, which run one after the other.</summary>
    public sealed class Shared(TestDatabase database) : IAsyncLifetime
    {
        private OpenIdProvider _provider = null!;

        public async ValueTask InitializeAsync() => _provider = await StartAsync(database);

        /// <summary>Honest, and nobody is there yet but its first subject.</summary>
        public OpenIdProvider Fresh()
        {
            (_provider.Subject, _provider.Alter, _provider.WithoutSignature, _provider.SaysItIs) = ("subject-1", null, false, null);
            _provider.Claims.Clear();
            return _provider;
        }

        public ValueTask DisposeAsync() => _provider.DisposeAsync();
    }

    public static async Task<OpenIdProvider> StartAsync(TestDatabase database)
    {
        var connection = await database.CreateDatabaseAsync();
        var key = new RsaSecurityKey(RSA.Create(2048)) { KeyId = "of-the-provider" };
        var builder = WebApplication.CreateEmptyBuilder(new());
        builder.WebHost.UseKestrelCore().UseUrls("http://127.0.0.1:0");
        builder.Services.AddRouting();
        builder.Services.AddDbContext<DbContext>(o => o.UseNpgsql(connection).UseOpenIddict());
        builder.Services.AddOpenIddict()
            .AddCore(o => o.UseEntityFrameworkCore().UseDbContext<DbContext>())
            .AddServer(o =>
            {
                o.SetAuthorizationEndpointUris("connect/authorize").SetTokenEndpointUris("connect/token");
                o.AllowAuthorizationCodeFlow().RequireProofKeyForCodeExchange();
                o.RegisterScopes(Scopes.Email, Scopes.Profile);
                o.AddEphemeralEncryptionKey().AddSigningKey(key);
                o.UseAspNetCore().EnableAuthorizationEndpointPassthrough().DisableTransportSecurityRequirement();
            });
        var app = builder.Build();
        var provider = new OpenIdProvider(app, key);
        app.Use(provider.AnswerAsync);
        app.UseRouting();
        app.UseAuthentication();
        app.MapGet("/connect/authorize", provider.Authorize);
        await app.StartAsync(IntakeBed.Ct);
        await provider.RegisterAsync(Client, "http://localhost/sign-in/openid/answer");
        return provider;
    }

    public async ValueTask DisposeAsync() => await _app.DisposeAsync();

    /// <summary>The settings of a registry that knows it.</summary>
    public Dictionary<string, string?> Settings(params (string Value, string Role, string? Site)[] places)
    {
        var settings = new Dictionary<string, string?>
        {
            ["OpenId:Authority"] = Authority,
            ["OpenId:Name"] = "Lindmere Health",
            ["OpenId:ClientId"] = Client,
            ["OpenId:ClientSecret"] = Secret,
            ["OpenId:TimeoutSeconds"] = "600", // a busy machine is no provider that does not answer
        };
        foreach (var (i, (value, role, site)) in places.Index())
        {
            settings[$"OpenId:Places:{i}:Value"] = value;
            settings[$"OpenId:Places:{i}:Role"] = role;
            settings[$"OpenId:Places:{i}:Site"] = site;
        }

        return settings;
    }

    public async Task RegisterAsync(string client, string returnsTo)
    {
        await using var scope = _app.Services.CreateAsyncScope();
        await scope.ServiceProvider.GetRequiredService<DbContext>().Database.EnsureCreatedAsync(IntakeBed.Ct);
        await scope.ServiceProvider.GetRequiredService<IOpenIddictApplicationManager>().CreateAsync(new OpenIddictApplicationDescriptor
        {
            ClientId = client,
            ClientSecret = Secret,
            RedirectUris = { new(returnsTo) },
            Permissions =
            {
                Permissions.Endpoints.Authorization, Permissions.Endpoints.Token, Permissions.GrantTypes.AuthorizationCode,
                Permissions.ResponseTypes.Code, Permissions.Scopes.Email, Permissions.Scopes.Profile,
            },
        }, IntakeBed.Ct);
    }

    private IResult Authorize(HttpContext http)
    {
        var identity = new ClaimsIdentity("test");
        identity.SetClaim(OpenIddictConstants.Claims.Subject, Subject);
        identity.AddClaims(Claims.Select(c => c.Clone()));
        identity.SetScopes(http.GetOpenIddictServerRequest()!.GetScopes());
        identity.SetDestinations(_ => [Destinations.IdentityToken]);
        return Results.SignIn(new(identity), null, OpenIddictServerAspNetCoreDefaults.AuthenticationScheme);
    }

    private async Task AnswerAsync(HttpContext http, RequestDelegate next)
    {
        var metadata = SaysItIs is not null && http.Request.Path == "/.well-known/openid-configuration";
        if (!metadata && ((Alter is null && !WithoutSignature) || http.Request.Path != "/connect/token"))
        {
            await next(http);
            return;
        }

        var body = http.Response.Body;
        using var held = new MemoryStream();
        http.Response.Body = held;
        await next(http);
        http.Response.Body = body;
        var answer = JsonNode.Parse(held.ToArray())!.AsObject();
        if (metadata) answer["issuer"] = SaysItIs;
        if ((string?)answer["id_token"] is { } token) answer["id_token"] = Again(token);
        var bytes = System.Text.Encoding.UTF8.GetBytes(answer.ToJsonString());
        http.Response.ContentLength = bytes.Length;
        await body.WriteAsync(bytes);
    }

    private string Again(string token)
    {
        var parts = token.Split('.');
        var payload = JsonNode.Parse(Base64UrlEncoder.DecodeBytes(parts[1]))!.AsObject();
        Alter?.Invoke(payload);
        var header = WithoutSignature ? Base64UrlEncoder.Encode("""{"alg":"none","typ":"JWT"}""") : parts[0];
        var said = $"{header}.{Base64UrlEncoder.Encode(payload.ToJsonString())}";
        return WithoutSignature ? said + "." : $"{said}.{Base64UrlEncoder.Encode(_key.Rsa.SignData(
            System.Text.Encoding.ASCII.GetBytes(said), HashAlgorithmName.SHA256, RSASignaturePadding.Pkcs1))}";
    }
}
