package analysis
import ("testing";"encoding/json";"os";"fmt")
func TestProbe(t *testing.T){
 r:=busyDog(400,.93,"sit","down","stay","heel")
 a:=Assess(r,barsOf(r),day1+21)
 b,err:=json.MarshalIndent(a,""," ")
 if err!=nil{t.Fatal(err)}
 os.WriteFile("/tmp/probe.json",b,0o644)
 for _,c:=range a.Cues{ fmt.Println(c.Cue,c.Verdict,c.Tally,c.Now.Now.V,c.Now.Low80.V,c.Now.Sure.V,c.Forecast)
  for _,g:=range c.Gates{ if !g.Met(){fmt.Println("   ",g.Name,g.Standing,g.Person,g.Place,g.Tally,g.Figure.Sure.V,*g.Lack)}}
  for _,x:=range c.Changes{fmt.Println("     change",x.Gate,x.Person,x.NotBy,x.Place,x.CleanAsks,x.CleanSessions,x.LikelyAsks,x.Nights)}
 }
 for _,s:=range a.Steps{fmt.Println(s.Name,s.Answer,s.Tally,s.Lack,s.People)}
 for _,s:=range a.Reasons{fmt.Println(s.Code,s.Weak,s.Cues,s.Person,s.Place,s.Tally,s.Rest,s.Lack)}
 for _,s:=range a.Plan{fmt.Printf("%+v\n",s)}
}
