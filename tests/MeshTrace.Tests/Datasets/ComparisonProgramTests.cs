using MeshTrace.Commands;
using MeshTrace.Datasets;

namespace MeshTrace.Tests.Datasets;

/// <summary>The program that compares is not always there.</summary>
public sealed class ComparisonProgramTests
{
    [Fact]
    public void WhereItIsNot_TheUserIsToldHowToRunIt()
    {
        using var error = new StringWriter();
        Assert.Equal(ExitCode.Fine, new ComparisonProgram(new Surroundings { Output = Stream.Null, Error = error }).Run("dataset"));
        Assert.Contains("run 'meshtrace-survey dataset'", error.ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void ProgramNamedThatDoesNotExist_IsTold()
    {
        string lost = Path.Combine(Path.GetTempPath(), "no-such-folder", "meshtrace-survey");
        var surroundings = new Surroundings { Output = Stream.Null, Error = TextWriter.Null, Environment = name => name == "MESHTRACE_SURVEY" ? lost : null };
        UserErrorException told = Assert.Throws<UserErrorException>(() => new ComparisonProgram(surroundings).Run("dataset"));
        Assert.Equal(ExitCode.Unreadable, told.ExitCode);
        Assert.Contains("MESHTRACE_SURVEY", told.Remedy, StringComparison.Ordinal);
    }
}
