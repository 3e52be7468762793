using System.Diagnostics;
using System.Net;
using System.Net.Sockets;
using Microsoft.AspNetCore.Mvc.Testing;
using Microsoft.AspNetCore.TestHost;
using Microsoft.Extensions.DependencyInjection;
using OpenTelemetry.Trace;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Operations;

/// <summary>Traces leave when an address is set, name the route and the database's part, and say nothing of anybody.</summary>
public sealed class TracesTests(TestDatabase database)
{
    [Fact]
    public async Task A_request_is_a_span_with_its_database_child_and_holds_nothing_of_a_person()
    {
        using var collector = new TcpListener(IPAddress.Loopback, 0);
        collector.Start();
        var connected = collector.AcceptTcpClientAsync(IntakeBed.Ct).AsTask();
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?>
        {
            ["Operations:TracesTo"] = $"http://127.0.0.1:{((IPEndPoint)collector.LocalEndpoint).Port}",
        });
        await bed.SendAsync("kind,record_number,birth_date,sex,mother_family_name\nbirth,Q1,2026-11-01,female,Quillfeather\n");
        var id = (await bed.ListAsync("select infant_id from infant_identifiers"))[0];
        var coordinator = await bed.AddPersonAsync(Role.Coordinator);

        var spans = new List<Activity>();
        await using var traced = bed.App.WithWebHostBuilder(host => host.ConfigureTestServices(services =>
            services.ConfigureOpenTelemetryTracerProvider(traces => traces.AddInMemoryExporter(spans))));
        var client = traced.CreateClient(new WebApplicationFactoryClientOptions { AllowAutoRedirect = false });
        using var entered = await SignedIn.PostAsync(client, coordinator, IntakeBed.Password);
        var trace = ActivityTraceId.CreateRandom(); // other tests' requests are in the same process
        client.DefaultRequestHeaders.Add("traceparent", $"00-{trace}-{ActivitySpanId.CreateRandom()}-01");
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync($"/infants/{id}?secret=Quillfeather", IntakeBed.Ct)).StatusCode);
        Assert.True(traced.Services.GetRequiredService<TracerProvider>().ForceFlush());
        await traced.DisposeAsync(); // nothing is added to them any more

        var own = spans.Where(s => s.TraceId == trace).ToList();
        var page = Assert.Single(own, s => s.Kind == ActivityKind.Server);
        Assert.Equal("infants/{id:guid}", ((string?)page.GetTagItem("http.route"))?.TrimStart('/'));
        var children = own.Where(s => s.ParentSpanId == page.SpanId).ToList();
        Assert.Contains(children, c => c.Source.Name == "Npgsql" && (string?)c.GetTagItem("db.system.name") == "postgresql");
        foreach (var span in own)
        {
            var told = string.Join(' ', span.TagObjects.Select(t => $"{t.Key}={t.Value}")
                .Concat(span.Events.SelectMany(e => e.Tags.Select(t => $"{t.Key}={t.Value}"))).Append(span.DisplayName));
            foreach (var secret in new[] { id, "Quillfeather", coordinator.Email!, IntakeBed.Password, "secret=" })
                Assert.DoesNotContain(secret, told, StringComparison.OrdinalIgnoreCase);
        }

        // And they leave for where the setting says.
        using var arrived = await connected.WaitAsync(Eventually.Patience, IntakeBed.Ct);
        Assert.True(arrived.Connected);
    }

    [Fact]
    public async Task Without_an_address_nothing_is_traced_and_no_port_of_metrics_is_open()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        Assert.Null(bed.App.Services.GetService<TracerProvider>());
        Assert.Null(bed.App.Services.GetService<OpenTelemetry.Metrics.MeterProvider>());
        Assert.Equal(HttpStatusCode.Redirect, (await SignedIn.Nobody(bed).GetAsync("/metrics", IntakeBed.Ct)).StatusCode);
    }
}
