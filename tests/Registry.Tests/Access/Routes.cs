using System.Collections;
using System.Reflection;
using System.Text.RegularExpressions;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.Mvc.RazorPages.Infrastructure;
using Microsoft.AspNetCore.Routing;
using Microsoft.AspNetCore.StaticAssets;
using Microsoft.Extensions.DependencyInjection;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>One endpoint with one verb, asked for with things that exist.</summary>
/// <param name="Verb">GET or POST.</param>
/// <param name="Pattern">As routed.</param>
/// <param name="Path">With values in it.</param>
/// <param name="Parameters">Names its query is read by.</param>
/// <param name="Policies">The permissions it asks for.</param>
internal sealed record Route(string Verb, string Pattern, string Path, IReadOnlyList<string> Parameters, IReadOnlyList<string> Policies);

/// <summary>Every endpoint of the program, found by asking it, so that a new one is never left out.</summary>
internal static class Routes
{
    /// <summary>Of callers of an interface, whose queries are read by hand.</summary>
    private static readonly string[] OfInterfaces =
        ["site", "asOf", "from", "to", "knownAt", "breakdown", "vitalBirths", "release", "format", "after", "limit", "outcome", "dry_run",
            "kind", "mapping", "periodStart", "periodEnd", "measure", "_format", "_since", "_count"];

    /// <param name="bed">The program, with an infant of the harbour.</param>
    /// <param name="samples">Values for the patterns that need one; a pattern that is not among them is an error.</param>
    public static async Task<IReadOnlyList<Route>> OfAsync(IntakeBed bed, IReadOnlyDictionary<string, string> samples)
    {
        var loader = bed.App.Services.GetRequiredService<PageLoader>();
        var routes = new List<Route>();
        foreach (var endpoint in bed.App.Services.GetRequiredService<EndpointDataSource>().Endpoints.OfType<RouteEndpoint>())
        {
            if (endpoint.Metadata.GetMetadata<StaticAssetDescriptor>() is not null) continue;
            var pattern = "/" + endpoint.RoutePattern.RawText!.TrimStart('/');
            if (pattern == "/{**path:file}") continue; // static files again, in Development
            IReadOnlyList<string> verbs =
                [.. (endpoint.Metadata.GetMetadata<IHttpMethodMetadata>()?.HttpMethods ?? ["GET"]).Where(v => v != "HEAD")];
            IReadOnlyList<string> parameters = OfInterfaces;
            IReadOnlyList<object> metadata = endpoint.Metadata;
            if (endpoint.Metadata.GetMetadata<PageActionDescriptor>() is { } page)
            {
                var compiled = await loader.LoadAsync(page, EndpointMetadataCollection.Empty);
                verbs = [.. compiled.HandlerMethods.Select(h => h.HttpMethod.ToUpperInvariant()).Append("GET").Distinct()];
                parameters = [.. Parameters(compiled).Append("asOf").Append("handler").Distinct()];
                metadata = [.. compiled.EndpointMetadata!];
            }

            var path = pattern.Contains('{', StringComparison.Ordinal) ? samples[pattern] : pattern;
            var policies = metadata.OfType<IAllowAnonymous>().Any() ? []
                : metadata.OfType<IAuthorizeData>().Select(a => a.Policy).OfType<string>().Distinct().ToList();
            routes.AddRange(verbs.Select(verb => new Route(verb, pattern, path, parameters, policies)));
        }

        return [.. routes.DistinctBy(r => (r.Verb, r.Pattern)).OrderBy(r => r.Pattern, StringComparer.Ordinal)
            .ThenBy(r => r.Verb, StringComparer.Ordinal)];
    }

    /// <summary>What somebody of the harbour typed.</summary>
    private static async Task<SubmissionId> TypedAsync(IntakeBed bed)
    {
        var receipt = await bed.ReceiveAsync("""{"rows":[{"kind":"risk","record_number":"nobody","indicator":"family_history"}]}""", format: SubmissionFormat.Typed);
        await bed.Process.RunAsync(receipt.Id.Value, IntakeBed.Ct);
        return receipt.Id;
    }

    /// <summary>Names of the query a page binds: its properties, and one level into those that are made of others.</summary>
    private static IEnumerable<string> Parameters(CompiledPageActionDescriptor page)
    {
        var properties = page.ModelTypeInfo!.GetProperties().Where(p => p.GetCustomAttribute<FromQueryAttribute>() is not null
            || p.GetCustomAttribute<BindPropertyAttribute>() is { SupportsGet: true }).ToList();
        var arguments = page.HandlerMethods.SelectMany(h => h.Parameters).Where(p => p.ParameterType != typeof(CancellationToken));
        foreach (var (name, type) in properties.Select(p => (p.Name, p.PropertyType))
            .Concat(arguments.Select(a => (a.Name, a.ParameterType))))
        {
            yield return name;
            var inner = Nullable.GetUnderlyingType(type) ?? type;
            if (inner.Namespace?.StartsWith("Registry", StringComparison.Ordinal) == true && !inner.IsEnum)
                foreach (var property in inner.GetProperties().Where(p => p.CanWrite)) yield return property.Name;
        }
    }

    /// <summary>The patterns of the jobs library's own pages, commands and files: regular expressions after <c>/jobs</c>.</summary>
    public static IReadOnlyList<string> OfJobs() =>
        [.. ((IEnumerable)typeof(Hangfire.Dashboard.RouteCollection).GetFields(BindingFlags.Instance | BindingFlags.NonPublic)
            .Single(f => f.FieldType != typeof(string) && typeof(IEnumerable).IsAssignableFrom(f.FieldType))
            .GetValue(Hangfire.Dashboard.DashboardRoutes.Routes)!).Cast<Tuple<string, Hangfire.Dashboard.IDashboardDispatcher>>()
            .Select(r => r.Item1)];

    /// <summary>A path the pattern of a page of the jobs library matches, with a value where it takes one.</summary>
    public static string Filled(string pattern, string value) =>
        Regex.Replace(pattern, @"\(\?<[^>]+>[^)]*\)", value).Replace("[0-9]+", "1", StringComparison.Ordinal)
            .Replace("\\", "", StringComparison.Ordinal);

    /// <summary>What exists in a bed with one infant of the harbour, by pattern.</summary>
    public static async Task<Dictionary<string, string>> SamplesAsync(IntakeBed bed)
    {
        var infant = (await bed.ListAsync("select id from infants limit 1"))[0];
        var submission = (await bed.ListAsync("select id from submissions limit 1"))[0];
        var screening = (await bed.ListAsync("select id from screenings limit 1"))[0];
        const string nothing = "0192f0c1-0000-7000-8000-000000000000";
        return new()
        {
            ["/infants/{id:guid}"] = $"/infants/{infant}",
            ["/infants/{id:guid}/reads"] = $"/infants/{infant}/reads",
            ["/infants/{id:guid}/screen"] = $"/infants/{infant}/screen",
            ["/infants/{id:guid}/enter/diagnosis"] = $"/infants/{infant}/enter/diagnosis",
            ["/infants/{id:guid}/enter/{kind}"] = $"/infants/{infant}/enter/risk",
            ["/infants/{id:guid}/enter/{kind:family}"] = $"/infants/{infant}/enter/care",
            ["/entered/{id}"] = $"/entered/{await TypedAsync(bed)}",
            ["/infants/{id:guid}/hand-offs"] = $"/infants/{infant}/hand-offs",
            ["/infants/{id:guid}/search"] = $"/infants/{infant}/search",
            ["/infants/{id:guid}/book"] = $"/infants/{infant}/book",
            ["/infants/{id:guid}/ask"] = $"/infants/{infant}/ask",
            ["/answer/{token}"] = "/answer/unknown",
            ["/infants/{id:guid}/kept"] = $"/infants/{infant}/kept",
            ["/submissions/{id:guid}"] = $"/submissions/{submission}",
            ["/submissions/{id:guid}/rows/{row:int}"] = $"/submissions/{submission}/rows/1",
            ["/submissions/held/bulk/{id:guid}"] = $"/submissions/held/bulk/{nothing}",
            ["/submissions/mappings/{id:guid}"] = $"/submissions/mappings/{nothing}",
            ["/policy/drafts/{id:guid}"] = $"/policy/drafts/{nothing}",
            ["/policy/drafts/{id:guid}/infants"] = $"/policy/drafts/{nothing}/infants",
            ["/reports/published/{id:guid}"] = $"/reports/published/{nothing}",
            ["/sites/{code}"] = "/sites/harbour",
            ["/places/edit/{code?}"] = "/places/edit/harbour",
            ["/access/people/{id:guid}"] = $"/access/people/{nothing}",
            ["/access/keys/{id:guid}"] = $"/access/keys/{nothing}",
            ["/password/{token}"] = "/password/unknown",
            ["/setup/link/{token}"] = "/setup/link/unknown",
            ["/sites/{code}/report"] = "/sites/harbour/report",
            ["/sites/{code}/flags/{id:guid}"] = $"/sites/harbour/flags/{nothing}",
            ["/sites/{code}/equipment"] = "/sites/harbour/equipment",
            ["/sites/{code}/units/{kind}/{**name}"] = "/sites/harbour/units/probe/P9",
            ["/sites/{code}/tests"] = "/sites/harbour/tests",
            ["/stop/{token}"] = "/stop/unknown",
            ["/problem/{status:int}"] = "/problem/404",
            ["/openapi/{documentName}.json"] = "/openapi/v1.json",
            ["/jobs/{**path}"] = "/jobs",
            ["/api/v1/submissions/{id}"] = $"/api/v1/submissions/{submission}",
            ["/api/v1/submissions/{id}/rows"] = $"/api/v1/submissions/{submission}/rows",
            ["/api/v1/submissions/{id}/rejected"] = $"/api/v1/submissions/{submission}/rejected",
            ["/api/v1/submissions/{id}/acknowledgement"] = $"/api/v1/submissions/{submission}/acknowledgement",
            ["/api/v1/export/{what}"] = "/api/v1/export/facts",
            ["/fhir/Patient/{id}"] = $"/fhir/Patient/{infant}",
            ["/fhir/Patient/{id}/$everything"] = $"/fhir/Patient/{infant}/$everything",
            ["/fhir/RelatedPerson/{id}"] = $"/fhir/RelatedPerson/{infant}",
            ["/fhir/Coverage/{id}"] = $"/fhir/Coverage/{infant}",
            ["/fhir/Encounter/{id}"] = $"/fhir/Encounter/{infant}",
            ["/fhir/Observation/{id}"] = $"/fhir/Observation/{screening}",
            ["/fhir/Measure/{id}"] = "/fhir/Measure/screened",
            ["/fhir/Measure/{id}/$evaluate-measure"] = "/fhir/Measure/screened/$evaluate-measure",
            ["/fhir/{**rest}"] = "/fhir/Nothing",
        };
    }
}
