using System.Net.Http.Headers;
using System.Text;
using Hl7.Fhir.Model;
using Hl7.Fhir.Serialization;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Fhir;

/// <summary>Short ways to send resources and read answers. Every answer is validated against R4 as it comes in.</summary>
internal static class FhirBed
{
    public const string Loinc = "http://loinc.org";
    private static readonly FhirJsonSerializer Serializer = new();
    private static readonly FhirJsonDeserializer Deserializer = new();

    public static async Task<HttpClient> FhirClientAsync(this IntakeBed bed, SiteId site)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        var (_, secret) = await scope.ServiceProvider.GetRequiredService<SiteKeys>().IssueAsync(site, "test", IntakeBed.Ct);
        var client = bed.App.CreateClient();
        client.DefaultRequestHeaders.Authorization = new("Bearer", secret);
        return client;
    }

    public static Task<(int Status, Resource Body)> SendAsync(this HttpClient client, Resource resource, string path = "/fhir",
        string? ifNoneExist = null) =>
        client.SendAsync(Serializer.SerializeToString(resource), path, ifNoneExist);

    public static async Task<(int Status, Resource Body)> SendAsync(this HttpClient client, string text, string path = "/fhir",
        string? ifNoneExist = null)
    {
        using var request = new HttpRequestMessage(HttpMethod.Post, path);
        request.Content = new StringContent(text, Encoding.UTF8, new MediaTypeHeaderValue("application/fhir+json"));
        if (ifNoneExist is not null) request.Headers.Add("If-None-Exist", ifNoneExist);
        using var answer = await client.SendAsync(request, IntakeBed.Ct);
        return ((int)answer.StatusCode, await ReadAsync(answer));
    }

    public static async Task<(int Status, Resource Body)> ReadAsync(this HttpClient client, string path)
    {
        using var answer = await client.GetAsync(path, IntakeBed.Ct);
        return ((int)answer.StatusCode, await ReadAsync(answer));
    }

    public static async Task<Resource> ReadAsync(HttpResponseMessage answer)
    {
        Assert.Equal("application/fhir+json", answer.Content.Headers.ContentType?.MediaType);
        var resource = Deserializer.DeserializeResource(await answer.Content.ReadAsStringAsync(IntakeBed.Ct));
        R4.AssertValid(resource);
        return resource;
    }

    public static string Json(Resource resource) => Serializer.SerializeToString(resource);

    /// <summary>Each entry's status with its issues, as the documentation writes them.</summary>
    public static List<string> Entries(Resource bundle) =>
        [.. ((Bundle)bundle).Entry.Select(e => string.Join(' ', [e.Response!.Status!, .. Issues(e.Response.Outcome)]))];

    public static List<string> Issues(Resource? outcome) =>
        [.. ((OperationOutcome?)outcome)?.Issue.Select(i => $"{i.Expression.FirstOrDefault()}: {i.Diagnostics}") ?? []];

    public static Bundle Bundle(Bundle.BundleType type, params IEnumerable<(string? Url, Resource Resource)> entries) => new()
    {
        Type = type,
        Entry = [.. entries.Select(e => new Bundle.EntryComponent
        {
            FullUrl = e.Url,
            Resource = e.Resource,
            Request = new() { Method = Hl7.Fhir.Model.Bundle.HTTPVerb.POST, Url = e.Resource.TypeName },
        })],
    };

    public static Patient Patient(string number, string born = "2026-11-20", string? card = null) => new()
    {
        Identifier = [new("urn:x-test", number) { Type = new("http://terminology.hl7.org/CodeSystem/v2-0203", "MR") },
            .. card is null ? [] : new[] { new Identifier("urn:x-registry:card-id", card) }],
        BirthDate = born,
        Gender = AdministrativeGender.Female,
    };

    public static Observation Result(string subject, string answer = "LA10392-1", string code = "54109-4",
        string at = "2026-11-21T09:15:00Z") => new()
        {
            Status = ObservationStatus.Final,
            Code = new(Loinc, code),
            Subject = new(subject),
            Effective = new FhirDateTime(at),
            Value = new CodeableConcept(Loinc, answer),
            Method = new(Loinc, "LA10387-1"),
        };

    public static string Urn(int n) => $"urn:uuid:00000000-0000-4000-8000-{n:000000000000}";
}
