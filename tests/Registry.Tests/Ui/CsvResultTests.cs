using System.Text;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Mvc;
using Registry.Rules;
using Registry.Ui;

namespace Registry.Tests.Ui;

public sealed class CsvResultTests
{
    [Fact]
    public async Task A_download_says_its_encoding_and_spells_values_as_everywhere()
    {
        var http = new DefaultHttpContext();
        using var body = new MemoryStream();
        http.Response.Body = body;
        var file = new CsvResult("infants.csv", ["born", "loss", "n", "name"], Rows());
        await file.ExecuteResultAsync(new ActionContext { HttpContext = http });
        Assert.Equal("attachment; filename=\"infants.csv\"", http.Response.Headers.ContentDisposition);
        Assert.Equal("\uFEFFborn,loss,n,name\r\n2026-03-01,lost_to_follow_up,-3,\r\n,,,'=1\r\n", Encoding.UTF8.GetString(body.ToArray()));

        static async IAsyncEnumerable<object?[]> Rows()
        {
            await Task.Yield();
            yield return [new DateOnly(2026, 3, 1), LossState.LostToFollowUp, -3, null];
            yield return [null, null, null, "=1"];
        }
    }
}
