using System.Globalization;
using System.Text.Json;
using MeshTrace.Commands;
using MeshTrace.Survey.Tests.Support;
using MeshTrace.Synthesis.Load;

namespace MeshTrace.Survey.Tests;

/// <summary>A table of several row groups: nothing is lost or doubled where one ends, and filters choose the right ones.</summary>
public sealed class ManyRowsTests : IDisposable
{
    private const int Frames = 100_000;
    private readonly SitesFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void RowGroups_HoldTogetherWhatTheRecordsHold()
    {
        LoadComposer.Compose(new LoadPlan { Frames = Frames, UnrelatedShare = 0.9 }, _folder.Sites, "load");
        string[] command = ["records", Path.Combine(_folder.Sites, "load.pcapng"), "--network", Path.Combine(_folder.Sites, "load.network.json"), "--only", "frame"];
        Run.Here([.. command, "--as", "parquet", "--to", _folder.Place("tables")]).Ended(ExitCode.Fine);
        string file = Path.Combine(_folder.Place("tables"), "frame.parquet");
        string[] lines = Run.Here(command).Ended(ExitCode.Fine).Output.Split('\n', StringSplitOptions.RemoveEmptyEntries)[1..];
        Assert.Equal(Frames, lines.Length);

        Assert.True(Sql.Number("SELECT count(DISTINCT row_group_id) FROM parquet_metadata(?)", file) >= 2);
        foreach (string counted in (string[])["count(*)", "count(DISTINCT frame)", "max(frame) - min(frame) + 1"])
            Assert.Equal(Frames, Sql.Number($"SELECT {counted} FROM read_parquet(?)", file));
        for (int frame = 1; frame <= Frames; frame += 9_973)
        {
            JsonElement record = JsonSerializer.Deserialize<JsonElement>(lines[frame - 1]);
            string?[] row = Assert.Single(Sql.Rows("SELECT advertiser, rssi, epoch_us(time) FROM read_parquet(?) WHERE frame = ?::BIGINT AND time = ?::TIMESTAMPTZ", file, frame.ToString(CultureInfo.InvariantCulture), record.GetProperty("time").GetString()![..26] + "Z"));
            Assert.Equal(record.GetProperty("advertiser").GetString(), row[0]);
            Assert.Equal(record.GetProperty("rssi").GetRawText(), row[1]);
        }
    }
}
