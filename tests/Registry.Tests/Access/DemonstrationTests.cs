using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Demo;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>The public password and the public keys open nothing where the demonstration is not on, though their rows are there.</summary>
public sealed class DemonstrationTests(TestDatabase database)
{
    [Theory]
    [InlineData("true", true)]
    [InlineData("false", false)]
    public async Task Its_people_and_keys_get_in_only_while_it_is_on(string enabled, bool getIn)
    {
        await using var loaded = await IntakeBed.StartWithRegionAsync(database);
        await using var app = RegistryApp.On(loaded.App.Logins.Owner!, new Dictionary<string, string?>
        {
            ["Access:AllowHttp"] = "true",
            ["Demo:Enabled"] = enabled,
        });
        foreach (var (email, _, _, _, _) in DemoPeople.All)
        {
            using var client = app.CreateClient(new() { AllowAutoRedirect = false });
            using var answer = await SignedIn.PostAsync(client, new Person { DisplayName = "", Email = email }, DemoPeople.Password);
            Assert.Equal(getIn ? HttpStatusCode.Redirect : HttpStatusCode.OK, answer.StatusCode);
        }

        var find = app.Services.GetRequiredService<FindSiteKey>();
        foreach (var place in Places.All)
            Assert.Equal(getIn, await find.ForAsync(LoadDemoRegion.SiteKeyOf(place.Code)) is not null);
    }
}
