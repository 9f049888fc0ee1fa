using System.Diagnostics;
using System.Text;

namespace MeshTrace.EndToEnd.Tests.Runs;

/// <summary>The built program while it receives.</summary>
internal sealed class Receiving : IDisposable
{
    private const int LongestWaitMs = 60_000;

    private readonly Process _process;
    private readonly StringBuilder _output = new(), _error = new();

    /// <summary>Starts it. The working folder decides under which name inputs are told.</summary>
    public Receiving(params string[] arguments)
    {
        _process = Program.Start(["receive", .. arguments]);
        _process.OutputDataReceived += (_, line) => Add(_output, line.Data);
        _process.ErrorDataReceived += (_, line) => Add(_error, line.Data);
        _process.BeginOutputReadLine();
        _process.BeginErrorReadLine();
    }

    public Process Process => _process;

    public Stream Input => _process.StandardInput.BaseStream;

    public void WaitFor(string words) => WaitUntil(() => (Text(_output) + Text(_error)).Contains(words, StringComparison.Ordinal), words);

    public Outcome Interrupt(string signal = "INT")
    {
        Pipe.Signal(_process, signal);
        return Ended();
    }

    /// <summary>Waits for the end.</summary>
    public Outcome Ended()
    {
        Assert.True(_process.WaitForExit(LongestWaitMs), "it did not end: " + Text(_error));
        _process.WaitForExit();     // for what it wrote last
        return new Outcome(_process.ExitCode, Text(_output), Text(_error));
    }

    public void Dispose()
    {
        if (!_process.HasExited)
            _process.Kill();
        _process.Dispose();
    }

    private void WaitUntil(Func<bool> there, string what)
    {
        var clock = Stopwatch.StartNew();
        while (!there())
        {
            if (clock.ElapsedMilliseconds > LongestWaitMs)
                throw new TimeoutException($"'{what}' did not come:\n{Text(_output)}\n{Text(_error)}");
            Thread.Sleep(50);
        }
    }

    private static void Add(StringBuilder text, string? line)
    {
        if (line is null)
            return;
        lock (text)
            text.Append(line).Append('\n');
    }

    private static string Text(StringBuilder text)
    {
        lock (text)
            return text.ToString();
    }
}
